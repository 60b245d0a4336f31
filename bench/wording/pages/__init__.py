"""What a page of the window says of itself: its next step, questions, notices; a file each.

Captions (a button, a field, a heading) stand where the widget is made.
"""
