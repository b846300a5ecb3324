/// MDF 4 blocks: bounds-checked access to the blocks of an ASAM MDF 4 file held in memory.
///
/// A block is "##XX", 4 bytes, u64 length, u64 link count, links (absolute offsets, 0 for none),
/// data; everything little-endian. Links and data that a newer minor version adds at the end are
/// tolerated. Nothing is read outside the bytes, and the work is bounded: reading a block costs its
/// size, and the whole file may cost kWork times its own size, so that blocks that overlap or are
/// named again and again end in an error.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <unordered_set>

#include "base/result.h"

namespace fuelwright::signals::mdf4 {

/// Little-endian number at an offset; the caller has checked that it lies inside.
std::uint64_t number_at(std::string_view bytes, std::size_t at, std::size_t size);
/// IEEE 754 double at an offset.
double real_at(std::string_view bytes, std::size_t at);

/// For messages: what is no printable ASCII becomes "?".
std::string ascii(std::string_view s);

struct Block {
  std::uint64_t at = 0;
  std::string_view id;  ///< "DG"
  std::string_view link_bytes;
  std::string_view data;

  std::size_t links() const { return link_bytes.size() / 8; }
  /// 0 where there is no such link.
  std::uint64_t link(std::size_t i) const {
    return i < links() ? number_at(link_bytes, 8 * i, 8) : 0;
  }
};

/// Offsets met while following a list: the same one twice is a loop.
using Visited = std::unordered_set<std::uint64_t>;

class File {
 public:
  File(std::string_view bytes, std::string_view name);

  std::string_view bytes() const { return bytes_; }
  const std::string& name() const { return name_; }
  /// "drive.mf4: byte 4711" and the message.
  Error error(std::uint64_t at, std::string message) const;

  /// The block at an offset. Errors: outside the file, not the id that was expected ("DG"; "" takes
  /// any), longer than the file, fewer links or data bytes than the kind has.
  Result<Block> block(std::uint64_t at, std::string_view id, std::size_t fewest_links,
                      std::size_t fewest_data);
  /// As block(), but a length beyond the file's end is cut to it, and `to_end` takes all up to it:
  /// for data whose length was never written.
  Result<Block> open_block(std::uint64_t at, std::string_view id, bool to_end, bool& cut);
  /// The text of a TX or MD block, "" for offset 0; of MD the text of its first <TX>. Longer text
  /// than kLongestText is cut there.
  Result<std::string> text(std::uint64_t at);
  /// Counts work that grows with what the file claims. Error: more than the bound.
  Status spend(std::uint64_t at, std::uint64_t work);
  /// Notes an offset. Error: it was there before.
  Status visit(Visited& visited, std::uint64_t at) const;

 private:
  std::string_view bytes_;
  std::string name_;
  std::uint64_t work_left_;
};

inline constexpr std::size_t kHeader = 24;         ///< bytes before the links
inline constexpr std::size_t kLongestText = 4096;  ///< of a name or unit [bytes]
inline constexpr std::uint64_t kWork = 16;         ///< times the file's size

}  // namespace fuelwright::signals::mdf4
