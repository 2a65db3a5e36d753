//! Checks of the whole against published values and against itself; see the files under `tests/`.
