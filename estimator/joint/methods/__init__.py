"""One module per family of fusion methods.

In: a wall, an outside diameter and the weather.
Out: times, pressures and temperatures of the joint, each with its source.
May not know: runs, machines or crews.
"""
