"""Answers as pictures: from findings and series to figures that read on a phone at arm's length in poor light.

They are words of another kind: they reckon nothing, and touch no file, book or chat. Figures are said through
`bot.words.say`, so that a picture and the words beside it agree.
"""
