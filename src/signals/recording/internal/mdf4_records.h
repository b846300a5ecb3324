/// MDF 4 records: the data of a group becomes records, and a field of them becomes numbers.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "signals/recording/internal/mdf4_data.h"

namespace fuelwright::signals::mdf4 {

/// The records of one group, one behind the other without ids; of a group of variable-length
/// values, u32 length and bytes, again and again.
struct Records {
  const Group* group = nullptr;
  Data data;
  std::size_t count = 0;
};

/// Splits the data of a data group, sorted (one group, no ids) or not. A torn last record is left
/// out. What the file claims and does not have is warned of. Errors: an id that no group has.
Result<std::vector<Records>> split_records(const File& file, const DataGroup& group, Data data,
                                           const Unfinished& unfinished,
                                           std::vector<std::string>& warnings);

/// Row of each record; kNoRow leaves it out. Empty: record i is row i.
using RowOf = std::vector<std::uint32_t>;
inline constexpr std::uint32_t kNoRow = 0xFFFFFFFF;

/// Reads a field of every record, converted, into column[row]; NaN where the sample is invalid or
/// its conversion gives no number. `words`: the variable-length values of a channel that has them.
///
/// False if the channel holds no numbers (words, bytes, an unread conversion or kind of number).
/// Error: the field lies outside its record.
Result<bool> read_channel(const File& file, const TreeChannel& channel, const Records& records,
                          const RowOf& row_of, const Data* words, std::vector<double>& column);

}  // namespace fuelwright::signals::mdf4
