"""The only place where sentences are made: from entries, questions and findings, never from guesses.

`say` holds how single things are said, `kept` says back what was written, `plan` a change of the plan, `found` what the
rules found, `answers` what was asked for, `chat` the rest: doubts, help, mishaps.
"""
