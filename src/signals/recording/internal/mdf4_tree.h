/// MDF 4 tree: what an MDF 4 file says about itself: data groups, channel groups, channels and
/// their conversions. No samples are read here.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "signals/recording/internal/mdf4_conversion.h"

namespace fuelwright::signals::mdf4 {

/// TreeChannel types (CN): the numbers are the standard's.
enum class ChannelType { value, variable, master, virtual_master, sync, longest, virtual_value };

struct TreeChannel {
  std::uint64_t at = 0;  ///< of its block, for messages
  std::string name;
  std::string unit;
  ChannelType type = ChannelType::value;
  int sync = 0;       ///< 1 time, 2 angle, 3 distance, 4 index
  int data_type = 0;  ///< 0/1 unsigned, 2/3 signed, 4/5 floating (little/big-endian), 6 to 10 words
  std::size_t bit_offset = 0;
  std::size_t byte_offset = 0;
  std::size_t bits = 0;
  bool invalid = false;  ///< all samples are
  bool has_invalid_bit = false;
  std::size_t invalid_bit = 0;
  bool has_parts = false;  ///< a composition, which is not read
  std::uint64_t signal_data = 0;
  ConversionPtr conversion;

  bool is_master() const {
    return type == ChannelType::master || type == ChannelType::virtual_master;
  }
  bool words() const { return data_type >= 6; }
};

struct Group {
  std::uint64_t at = 0;
  std::string name;
  std::uint64_t record_id = 0;
  std::uint64_t cycles = 0;  ///< records, as the file claims
  bool variable = false;     ///< holds the variable-length values of a channel of another group
  std::size_t data_bytes = 0;
  std::size_t invalid_bytes = 0;
  std::vector<TreeChannel> channels;

  std::size_t record_bytes() const { return data_bytes + invalid_bytes; }
};

struct DataGroup {
  std::uint64_t at = 0;
  std::uint64_t data = 0;  ///< offset of the first data block, 0 for none
  std::size_t id_bytes = 0;
  std::vector<Group> groups;
};

/// What an unfinalised file has left undone (ID block).
struct Unfinished {
  bool cycles = false;    ///< 0x01
  bool length = false;    ///< 0x04 the last DT block runs to the end of the file
  bool list = false;      ///< 0x10 the last DL block does not count what it names
  bool variable = false;  ///< 0x20 lengths of variable-length groups
  bool offsets = false;   ///< 0x40 offsets of variable-length values
};

struct Tree {
  Unfinished unfinished;
  std::vector<DataGroup> data;
  std::vector<std::string> warnings;
};

/// Errors, each naming the byte: not version 4 (saying what to do), cut short, damaged blocks,
/// loops, more than kMostChannels channels.
Result<Tree> read_tree(File& file);

inline constexpr std::size_t kMostChannels = 100'000;

}  // namespace fuelwright::signals::mdf4
