"""A layout as data: elements, joints, stages, tones, signals; it knows nothing of answers.

Others use `layout.Layout` and its parts, `cooling`, `margins`, `naming` and `equal_lines`.
"""
