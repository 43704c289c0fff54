"""The page at the bench: a local web app that asks the same api as the command line.

Starlette, uvicorn and segno are imported here and nowhere else; the command line comes here only for
``page``, so that no other command pays for them.
"""
