"""One file per sheet of the report: each turns a project and its plan into a page.

A page (`page.py`) is rows of cells and pictures, described without any file format, so
that what a sheet says can be read and tested without opening a workbook.
"""
