"""What only the site needs: equations, pictures of the sheets.

In: docs/, examples/. Out: pictures in docs/pictures, HTML pieces while mkdocs builds.
May not know: how anything is worked out.
"""
