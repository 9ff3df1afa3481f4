"""The living plan: a page on this machine that edits one house file and solves it while things are dragged.

Everything computed comes from the library; the page draws what it receives and keeps no model of its own.
"""
