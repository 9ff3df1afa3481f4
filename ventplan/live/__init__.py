"""The plan in a browser: a page on this machine that edits one house file and solves it during a drag.

The server uses Starlette and Uvicorn; the page is plain ES modules and SVG in ``static``, with no build step. The
library computes all numbers, shapes and words. During a drag one request is under way and one waits, replaced by any
newer one; each checks only names and ranges and starts from the last solution. Long questions run in other processes.
"""
