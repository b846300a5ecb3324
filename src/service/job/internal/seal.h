/// Seals: SHA-256 over what a row says, kept in the row, so that a flipped bit is noticed when the
/// row is read. SQLite itself checks the shape of its pages, not what stands in them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace fuelwright::service::internal {

/// SHA-256 (FIPS 180-4) as 64 hex digits.
std::string sha256_hex(std::string_view bytes);

/// Fields are joined with their lengths, so ("ab", "c") and ("a", "bc") differ.
class Seal {
 public:
  explicit Seal(std::string_view table) { add(table); }
  Seal& add(std::string_view field);
  Seal& add(std::int64_t field);
  Seal& add(std::optional<std::int64_t> field);
  std::string hex() const { return sha256_hex(joined_); }

 private:
  std::string joined_;
};

}  // namespace fuelwright::service::internal
