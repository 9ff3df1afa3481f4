"""Large-eddy simulation of fans and wind in rooms: the program behind the simulated cases in ``tests/outside/data``."""
