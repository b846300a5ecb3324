#include "signals/recording/internal/parquet_names.h"

#include <fmt/format.h>

#include <array>
#include <cctype>
#include <set>

#include "signals/recording/parquet.h"

namespace fuelwright::signals {
namespace {

// Columns of every file, and folders of the archive, which readers show as columns.
constexpr std::array kTaken{"ts", "session", "row_index", "segment", "vehicle", "date"};

// Sensors of which an engine may have one a bank carry their bank always, so that `lambda`, a
// reserved word of DuckDB, is never a name.
bool names_its_bank(Quantity what) {
  return what == Quantity::lambda || what == Quantity::short_trim || what == Quantity::long_trim ||
         what == Quantity::oxygen_voltage;
}

// The unit a quantity has in every file, or that of the column where nothing is known of it.
ParquetField field_of(const Channel& c) {
  ParquetField f;
  const QuantityInfo& q = info(c.what);
  const bool other = c.what == Quantity::other;
  f.name = other ? "ch_" + sql_word(c.header) : q.name;
  if (names_its_bank(c.what)) f.name += fmt::format("_{}", c.bank);
  f.unit = other ? c.unit : q.unit;
  f.wide = c.what == Quantity::time || c.what == Quantity::run_time || q.kind == Kind::count;
  if (!c.converted) return f;
  if (!f.unit.empty()) {
    if (const auto unit = find_unit(f.unit, c.kind)) {
      f.factor = unit->factor;
      f.offset = unit->offset;
    } else {
      f.unit.clear();
    }
  }
  const std::string tail = sql_word(f.unit);
  if (!tail.empty() && tail != f.name && !f.name.ends_with("_" + tail)) f.name += "_" + tail;
  return f;
}

// Bytes of the UTF-8 character that begins here; 0 if none does.
std::size_t character(std::string_view s) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(s[i]); };
  const unsigned char lead = at(0);
  if (lead < 0x80) return 1;
  const std::size_t size = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || s.size() < size) return 0;
  for (std::size_t i = 1; i < size; ++i) {
    if ((at(i) & 0xC0) != 0x80) return 0;
  }
  const bool overlong = (lead == 0xE0 && at(1) < 0xA0) || (lead == 0xF0 && at(1) < 0x90);
  const bool beyond = (lead == 0xED && at(1) > 0x9F) || (lead == 0xF4 && at(1) > 0x8F);
  return overlong || beyond ? 0 : size;
}

}  // namespace

std::string sql_word(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '%') {
      out += "pct";
    } else if (u < 0x80 && std::isalnum(u) != 0) {
      out += static_cast<char>(std::tolower(u));
    } else if (!out.empty() && out.back() != '_') {
      out += '_';
    }
  }
  while (!out.empty() && out.back() == '_') out.pop_back();
  return out;
}

std::string as_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t size = character(text.substr(i));
    if (size == 0) {
      std::string marked(text);
      for (char& c : marked) {
        if (static_cast<unsigned char>(c) >= 0x80) c = '?';
      }
      return marked;
    }
    i += size;
  }
  return std::string(text);
}

std::vector<ParquetField> parquet_fields(const Recording& recording) {
  std::set<std::string> taken(kTaken.begin(), kTaken.end());
  std::vector<ParquetField> out;
  for (const Channel& c : recording.channels) {
    ParquetField f = field_of(c);
    const std::string wanted = f.name;
    for (int i = 2; !taken.insert(f.name).second; ++i) f.name = fmt::format("{}_{}", wanted, i);
    out.push_back(std::move(f));
  }
  return out;
}

}  // namespace fuelwright::signals
