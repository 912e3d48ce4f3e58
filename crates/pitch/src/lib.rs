//! Pure theory: spelled pitches, transposition, keys, tunings, partials, fingerings, the instrument table.
