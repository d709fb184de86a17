"""Pages on which people type their numbers: ``/ask/`` lists them, ``/ask/<question>`` has a form and its answer.

They work without script and without the site. The fields of a form are those of the API's query, so its address
becomes a call of the API by its path alone.

    words.py      the questions in everyday words, and which fields a form asks first
    fields.py     the fields of a form, from what the document says about a query
    numbers.py    numbers with units and decimal commas
    typed.py      what was typed: tidied, read, and what is wrong with it
    pasted.py     lists of cells or setups as a spreadsheet has them
    shown.py      an answer as a page shows it
    logs.py       discharge logs as files
    pictures.py   layouts as drawings
    bench_card.py the card of a cell: figures of several questions on one sheet
    pages.py      the routes; templates/ has the pages

A list of things, such as cells, has the same fields for each of them (``Rows``); entries in which nothing was typed
do not count. A field beside them takes all at once, one a line: no name in the API has
a hyphen, as its name does, and a redirect turns it into theirs. A list of numbers is typed or pasted as a column.
"""
