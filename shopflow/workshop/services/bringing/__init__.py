"""Bringing what a shop has: its instruments and their open work, from a file.

decoding, splitting, workbook, reading   a file becomes lines and cells, whatever wrote it
columns, heading                         which column is which
values, days                             what stands in a cell
house, facts, tasks, owners              cells become instruments, tasks and customers of this shop (drafts)
problems, notes, questions               what is wrong where, what was assumed, what has to be answered
plan                                     all of that for one file: what will happen, before anything does
keeping                                  the file waits on the server between the look and the deed
writing                                  all of it in one transaction, or nothing
"""
