//! The renderer on the audio side and its controls: commands, snapshots, journal, offline bounce.
