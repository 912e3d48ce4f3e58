//! Time and turns: meters, lines, drills, groups and rolls become plans; the cursor steps them.
