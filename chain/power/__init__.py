"""Where the power of tones goes: levels, heat in elements, what tones warm."""
