"""Pages on which people type their numbers: ``/ask/`` lists them, ``/ask/<question>`` has a form and its answer.

They work without script and without the site. The fields of a form are those of the API's query, so its address
becomes a call of the API by its path alone.

    words.py      the questions in everyday words, and which fields a form asks first
    fields.py     the fields of a form, from what the document says about a query
    typed.py      what was typed: tidied, read, and what is wrong with it
    shown.py      an answer as a page shows it
    pictures.py   layouts as drawings
    pages.py      the routes; templates/ has the pages

A question with lists has a place in ``words.py`` as soon as its form is there: ``fields.py`` gives a list the
kind ``list``, and ``templates/form.html.jinja`` has one macro a kind. A log is a file, which only a POST can
bring: its route belongs into ``pages.py`` beside the others, and ``shown.py`` shows its answer like any other.
"""
