/// Parquet out: a recording becomes a file that a shop's archive is asked with (DuckDB, Spark,
/// Trino), together with a small table of what its columns are.
///
///   ParquetOptions how{.session = "0003-1a2b3c4d5e6f", .start_utc_us = *clock_start_us(drive)};
///   std::string bytes = write_parquet(drive, how);
///
/// The same quantity has the same name and unit in every file, whatever unit its logger wrote, and
/// no name is a reserved word of SQL: `lambda_1`, `map_kpa`, `coolant_degc`, `short_trim_1_pct`.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "signals/channels/channel.h"

namespace fuelwright::signals {

struct ParquetOptions {
  std::string session;            ///< names this recording in the whole archive
  std::int64_t start_utc_us = 0;  ///< instant of time_s = 0, microseconds since 1970
  std::vector<std::pair<std::string, std::string>> notes;  ///< into the footer, beside the units
  std::size_t rows_per_group = 122'880;                    ///< at least 1
};

/// One channel's column.
struct ParquetField {
  std::string name;   ///< small letters, digits and _
  std::string unit;   ///< of the values; empty: none, or as found
  double factor = 1;  ///< value = (si - offset) / factor
  double offset = 0;
  bool wide = false;  ///< DOUBLE: clocks and counters, which seven digits do not hold
};
/// [channel]; names are unique and none is that of another column or of a folder of the archive.
std::vector<ParquetField> parquet_fields(const Recording& recording);

/// The whole file. Columns: `ts` (optional, INT64 microseconds in UTC; a gap where the seconds are
/// not known), `session`, `row_index` from 0, `segment` as labelled, then the channels (FLOAT,
/// optional, NaN is a gap). Rows are in the order of the recording. The footer holds `unit.NAME`
/// and `header.NAME` of every channel and the notes. Same input, same bytes.
std::string write_parquet(const Recording& recording, const ParquetOptions& options);

/// What the columns are, one row a channel: session, channel, quantity, unit, header, unit_found,
/// confidence, reason; with the same notes.
std::string write_parquet_channels(const Recording& recording, const ParquetOptions& options);

/// The instant of time_s = 0, where the clock of the recording tells a date: its time lies between
/// 2000 and 2100 as seconds since 1970. Zones are not known: a local clock is taken as it stands.
std::optional<std::int64_t> clock_start_us(const Recording& recording);

}  // namespace fuelwright::signals
