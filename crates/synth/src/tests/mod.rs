//! Measures the sound with code that shares nothing with what makes it.
