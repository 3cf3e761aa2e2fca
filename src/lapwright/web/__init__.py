"""The pages, the JSON API and the live sockets: thin, made on the server, working without script where a form does.

Pages ask `app` and show what it returns; they reach no record and no gauge themselves. Why each page looks as it does:
docs/explanation/pages.md.
"""
