//! Who may open one register at the same time.

/// How a register is opened, and so what other processes may do meanwhile.
///
/// One server, any number of readers, and other processes that append now and then can share a register:
/// SQLite's own write lock keeps their transactions apart, and the expected head keeps their entries in
/// order. Two servers cannot, since each would answer from a state in memory that the other makes old.
///
/// | opened for | beside a server | beside a reader | beside an appender |
/// | --- | --- | --- | --- |
/// | `Read` | yes | yes | yes |
/// | `Append` | yes, if the layout is current | yes | yes, one transaction at a time |
/// | `Serve` | refused: `InUse` | yes | yes |
///
/// The server holds an advisory lock on `<register>.lock` for as long as it runs; the system lets go of it
/// when the process ends, however it ends, so the file itself may stay and means nothing. Bringing an old
/// layout up to date needs the same lock. Keep a register on a local disk: network file systems do not
/// keep these locks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Reads only; never creates or changes the file.
    Read,
    /// Reads, and writes in single transactions, beside a server if there is one.
    Append,
    /// Reads and writes as the one server of the register.
    Serve,
}
