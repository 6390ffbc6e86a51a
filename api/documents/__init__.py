"""The shapes that the API takes and gives. They parse and describe; they write nothing."""
