// The kind of a file: a fingerprint of its channels.
#include "signals/recording/internal/kind.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include "signals/recording/internal/header.h"
#include "signals/recording/internal/read_table.h"

namespace fuelwright::signals {

std::string kind_of(const CsvTable& table) {
  std::vector<std::string> names;
  names.reserve(table.columns.size());
  for (const CsvColumn& c : table.columns) {
    if (c.header.starts_with("column ")) continue;  // no name, often a separator at the line's end
    names.push_back(c.header + '\x1f' + c.header_unit.value_or(c.unit) + '\x1e');
  }
  std::ranges::sort(names);
  // FNV-1a, 64 bits: public domain, isthe.com/chongo/tech/comp/fnv (from memory). It tells kinds
  // apart; it protects nothing.
  constexpr std::uint64_t kBasis = 14695981039346656037ULL;
  constexpr std::uint64_t kPrime = 1099511628211ULL;
  std::uint64_t hash = kBasis;
  for (const std::string& name : names) {
    for (const char c : name) {
      hash = (hash ^ static_cast<unsigned char>(c)) * kPrime;
    }
  }
  return fmt::format("{:016x}", hash);
}

Result<std::string> file_kind(std::string_view bytes, std::string_view name) {
  if (looks_like_mdf(bytes)) {
    FW_TRY(const CsvTable table, read_mdf4(bytes, name));
    return kind_of(table);
  }
  CsvTable table;
  table.name = name;
  FW_CHECK(read_header(bytes, table));
  return kind_of(table);
}

}  // namespace fuelwright::signals
