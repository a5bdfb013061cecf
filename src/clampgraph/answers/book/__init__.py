"""Everything about one assembly as a book: linked pages of HTML in a folder, and one PDF.

`contents` gathers the pages, `front`, `symptom_pages` and `indexes` write them, `markup` and `style` say what they
look like, `binding` makes files and the PDF of them, `shelf` puts them in a folder, whole or not at all.
Nothing is told here that another answer does not tell; the same data give the same bytes.
"""
