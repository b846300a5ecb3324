/// MDF 4 data: the data blocks of a group (DT, SD, DZ, lists of them) become one run of bytes.
///
/// Blocks may cut records at any byte. Compressed blocks (deflate, deflate with transposition) are
/// inflated to the size they state, never beyond it: at most kMostOfBlock each, at most as much as
/// deflate can make of their bytes, and kMostInflated in all. A block is read once; data that is
/// named twice is an error.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "signals/recording/internal/mdf4_tree.h"

namespace fuelwright::signals::mdf4 {

inline constexpr std::uint64_t kMostOfBlock = std::uint64_t{1} << 28U;   ///< [bytes]
inline constexpr std::uint64_t kMostInflated = std::uint64_t{1} << 31U;  ///< [bytes]
/// Deflate makes at most 1032 bytes of one (258 bytes from two bits); zlib's own bound.
inline constexpr std::uint64_t kMostFromOne = 1032;

/// Bytes that are a view of the file or, where there are several blocks, a copy.
struct Data {
  std::string own;
  std::string_view view;
  bool copied = false;
  std::string_view bytes() const { return copied ? std::string_view(own) : view; }
};

class DataReader {
 public:
  DataReader(File& file, Unfinished unfinished, std::vector<std::string>& warnings)
      : file_(file), unfinished_(unfinished), warnings_(warnings) {}

  /// kind: "DT" or "SD", the blocks that may come. Empty for offset 0.
  Result<Data> read(std::uint64_t at, std::string_view kind);

 private:
  Status read_list(std::uint64_t at, std::string_view kind, Data& out);
  Status check_offset(const Block& list, std::size_t i, std::uint64_t begins) const;
  Status read_block(std::uint64_t at, std::string_view kind, Data& out);
  Status inflate_block(std::uint64_t at, std::string_view kind, Data& out);
  Status append(std::uint64_t at, std::string_view bytes, Data& out);

  File& file_;
  Unfinished unfinished_;
  std::vector<std::string>& warnings_;
  Visited visited_;
  std::uint64_t inflated_ = 0;
};

/// Undoes the transposition of a compressed block: n = size / width bytes of column 0, of column 1,
/// ..., then the rest as it is (mdf4.4).
std::string untransposed(std::string_view columns, std::size_t width);

}  // namespace fuelwright::signals::mdf4
