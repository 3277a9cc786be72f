"""What wood is: measures, boards, yards, grades, species, and the tables that name them.

Read `boards` first, then `measures` (the grid everything is counted in) and `shop` (the
settings). Nothing here knows what is to be built.
"""
