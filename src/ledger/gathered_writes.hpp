#pragma once
// The layer between SQLite and the files of a ledger: writes that follow one another reach the system as one.
//
// SQLite writes page by page, and into its log each page in two pieces. The system keeps and transfers what
// it is given piece by piece: 4 MiB in pages of 4 KiB take three times as long to write and to flush as in
// pieces of 64 KiB. Nothing else changes: the order of writes stays, and whatever else is asked of a file
// (to read, to flush, to let others see) finds all of it written.

namespace ebbtide::ledger {

/// The name that SQLite opens files of this layer by. They lie on the layer that is SQLite's default when
/// they are opened.
[[nodiscard]] const char* gathering_layer();

}  // namespace ebbtide::ledger
