"""A layout as data: elements, joints, stages, tones, signals; it knows nothing of answers."""
