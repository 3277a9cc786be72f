"""What people see of a plan: frames, drawings, the workbook, the command line.

A plan becomes tables (`frames.py`), tables and plan become pages (`sheets/`, one file a
sheet: each describes rows of cells and pictures and knows nothing of the file format),
and pages become a workbook (`workbook.py`, painted by `painter.py`, finished by
`closing.py`). Drawings are plain data in grid steps (`drawings.py`, built by
`board_views.py` and `panel_views.py`) until a back end paints them. Read `workbook.py`
first.
"""
