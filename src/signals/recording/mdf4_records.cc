#include "signals/recording/internal/mdf4_records.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "signals/recording/internal/cells.h"

namespace fuelwright::signals::mdf4 {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

std::string named(const Group& g) {
  return g.name.empty() ? fmt::format("the group at byte {}", g.at)
                        : fmt::format("group \"{}\"", g.name);
}

// The file's own count, as far as the records are there.
void settle_count(Records& r, std::size_t there, const Unfinished& unfinished,
                  std::vector<std::string>& warnings) {
  const std::uint64_t claimed = r.group->cycles;
  r.count = there;
  if (unfinished.cycles || r.group->variable) return;
  if (claimed <= there) {
    r.count = static_cast<std::size_t>(claimed);
    return;
  }
  warnings.push_back(
      fmt::format("{} claims {} records; {} are there", named(*r.group), claimed, there));
}

Result<std::vector<Records>> split_unsorted(const File& file, const DataGroup& group,
                                            std::string_view bytes, const Unfinished& unfinished,
                                            std::vector<std::string>& warnings) {
  std::vector<Records> out(group.groups.size());
  std::vector<std::size_t> there(out.size());
  std::map<std::uint64_t, std::size_t> index;
  for (std::size_t i = 0; i < out.size(); ++i) {
    out[i].group = &group.groups[i];
    out[i].data.copied = true;
    if (!index.emplace(group.groups[i].record_id, i).second) {
      return file.error(group.groups[i].at,
                        fmt::format("two groups have the record id {}", group.groups[i].record_id));
    }
  }
  constexpr std::size_t kLength = 4;
  for (std::size_t at = 0; bytes.size() - at >= group.id_bytes && at < bytes.size();) {
    const std::uint64_t id = number_at(bytes, at, group.id_bytes);
    const auto known = index.find(id);
    if (known == index.end()) {
      std::string what = fmt::format("record id {} after {} bytes of data names no group", id, at);
      if (!unfinished.length) return file.error(group.data, std::move(what));
      warnings.push_back(what + "; reading ended there");
      break;
    }
    const std::string_view rest = bytes.substr(at + group.id_bytes);
    Records& to = out[known->second];
    std::size_t size = to.group->record_bytes();
    if (to.group->variable) {
      if (rest.size() < kLength) break;
      size = kLength + static_cast<std::size_t>(number_at(rest, 0, kLength));
    }
    if (size > rest.size()) break;  // torn
    to.data.own += rest.substr(0, size);
    ++there[known->second];
    at += group.id_bytes + size;
  }
  for (std::size_t i = 0; i < out.size(); ++i) settle_count(out[i], there[i], unfinished, warnings);
  return out;
}

// Where a number lies in a record and how it is written.
struct Field {
  std::size_t at = 0;
  std::size_t bytes = 0;
  std::size_t shift = 0;
  std::uint64_t mask = 0;
  std::uint64_t sign = 0;  // the sign bit of a signed number
  bool big_endian = false;
  bool real = false;

  double read(std::string_view record) const {
    std::uint64_t raw = 0;
    if (big_endian) {
      for (std::size_t i = 0; i < bytes; ++i) {
        raw = raw << 8U | static_cast<unsigned char>(record[at + i]);
      }
    } else {
      raw = number_at(record, at, bytes);
    }
    raw = raw >> shift & mask;
    if (real && bytes == 4) return std::bit_cast<float>(static_cast<std::uint32_t>(raw));
    if (real) return std::bit_cast<double>(raw);
    if ((raw & sign) != 0) return static_cast<double>(static_cast<std::int64_t>(raw | ~mask));
    return static_cast<double>(raw);
  }
};

bool is_virtual(const TreeChannel& c) {
  return c.type == ChannelType::virtual_master || c.type == ChannelType::virtual_value;
}

// Empty for numbers that are not read (half precision, nine bytes).
std::optional<Field> field_of(const TreeChannel& c) {
  Field f;
  f.at = c.byte_offset;
  f.shift = c.bit_offset;
  f.real = c.data_type == 4 || c.data_type == 5;
  f.big_endian = c.data_type % 2 == 1;
  if (c.bits == 0 || c.bits > 64 || c.bit_offset > 7) return std::nullopt;
  f.bytes = (c.bit_offset + c.bits + 7) / 8;
  if (f.bytes > 8) return std::nullopt;
  if (f.real && (c.bit_offset != 0 || (c.bits != 32 && c.bits != 64))) return std::nullopt;
  f.mask = ~std::uint64_t{0} >> (64 - c.bits);
  if (c.data_type == 2 || c.data_type == 3) f.sign = std::uint64_t{1} << (c.bits - 1);
  return f;
}

Status check_inside(const File& file, const TreeChannel& c, const Group& g, std::size_t bytes) {
  const bool in_record = !is_virtual(c);
  if (in_record && (bytes > g.data_bytes || c.byte_offset > g.data_bytes - bytes)) {
    return file.error(c.at,
                      fmt::format("channel \"{}\" lies in bytes {} to {} of records of {}", c.name,
                                  c.byte_offset, c.byte_offset + bytes, g.data_bytes));
  }
  if (c.has_invalid_bit && c.invalid_bit / 8 >= g.invalid_bytes) {
    return file.error(c.at, fmt::format("channel \"{}\" has the validity bit {} of {}", c.name,
                                        c.invalid_bit, 8 * g.invalid_bytes));
  }
  return Done{};
}

bool is_invalid(const TreeChannel& c, const Group& g, std::string_view record) {
  if (c.invalid) return true;
  if (!c.has_invalid_bit) return false;
  const auto byte = static_cast<unsigned char>(record[g.data_bytes + c.invalid_bit / 8]);
  return (byte >> (c.invalid_bit % 8) & 1U) != 0;
}

template <class Value>
void fill(const TreeChannel& c, const Records& r, const RowOf& row_of, std::vector<double>& column,
          Value&& value) {
  const std::string_view all = r.data.bytes();
  const std::size_t width = r.group->record_bytes();
  for (std::size_t i = 0; i < r.count; ++i) {
    const std::size_t row = row_of.empty() ? i : row_of[i];
    if (row >= column.size()) continue;
    const std::string_view record = all.substr(i * width, width);
    if (is_invalid(c, *r.group, record)) continue;
    const double v = value(i, record);
    if (std::isfinite(v)) column[row] = v;
  }
}

bool read_numbers(const TreeChannel& c, const Records& r, const RowOf& row_of, const Field& f,
                  std::vector<double>& column) {
  if (c.conversion && c.conversion->kind == ConversionKind::unread) return false;
  const Conversion* convert = c.conversion.get();
  const bool unread = is_virtual(c);
  const bool whole = unread || !f.real;
  fill(c, r, row_of, column, [&](std::size_t i, std::string_view record) {
    const double raw = unread ? static_cast<double>(i) : f.read(record);
    return convert == nullptr ? raw : (*convert)(raw, whole);
  });
  return true;
}

// The words at an offset into variable-length values; empty if they are not there.
std::string_view words_at(std::string_view all, std::uint64_t at) {
  constexpr std::size_t kLength = 4;
  if (all.size() < kLength || at > all.size() - kLength) return {};
  const std::string_view rest = all.substr(static_cast<std::size_t>(at));
  return rest.substr(kLength, static_cast<std::size_t>(number_at(rest, 0, kLength)));
}

// Numbers written as words; false if most of them are none.
bool read_words(const TreeChannel& c, const Records& r, const RowOf& row_of, const Data* words,
                std::vector<double>& column) {
  std::size_t numbers = 0;
  std::size_t others = 0;
  fill(c, r, row_of, column, [&](std::size_t, std::string_view record) {
    std::string_view text;
    if (words == nullptr) {
      text = record.substr(c.byte_offset, c.bits / 8);
    } else {
      text = words_at(words->bytes(), number_at(record, c.byte_offset, 8));
    }
    const Cell cell = read_cell(text.substr(0, std::min(text.find('\0'), kLongestText)), false);
    numbers += cell.kind == CellKind::number ? 1 : 0;
    others += cell.kind == CellKind::other ? 1 : 0;
    return cell.kind == CellKind::number ? cell.value : kGap;
  });
  return numbers > others;
}

}  // namespace

Result<std::vector<Records>> split_records(const File& file, const DataGroup& group, Data data,
                                           const Unfinished& unfinished,
                                           std::vector<std::string>& warnings) {
  if (group.id_bytes != 0) {
    return split_unsorted(file, group, data.bytes(), unfinished, warnings);
  }
  std::vector<Records> out;
  if (group.groups.empty()) return out;
  Records r;
  r.group = &group.groups.front();
  const std::size_t width = r.group->record_bytes();
  const std::size_t there = width == 0 ? 0 : data.bytes().size() / width;
  r.data = std::move(data);
  settle_count(r, there, unfinished, warnings);
  out.push_back(std::move(r));
  return out;
}

Result<bool> read_channel(const File& file, const TreeChannel& channel, const Records& records,
                          const RowOf& row_of, const Data* words, std::vector<double>& column) {
  const Group& g = *records.group;
  if (channel.type == ChannelType::sync || channel.type == ChannelType::longest) return false;
  if (is_virtual(channel)) {
    FW_CHECK(check_inside(file, channel, g, 0));
    return read_numbers(channel, records, row_of, Field{}, column);
  }
  if (channel.words()) {
    const bool readable = channel.data_type == 6 || channel.data_type == 7;
    const bool variable = channel.type == ChannelType::variable;
    if (!readable || channel.conversion || (variable && words == nullptr)) return false;
    FW_CHECK(check_inside(file, channel, g, variable ? 8 : channel.bits / 8));
    return read_words(channel, records, row_of, variable ? words : nullptr, column);
  }
  const auto field = field_of(channel);
  if (!field || channel.type == ChannelType::variable) return false;
  FW_CHECK(check_inside(file, channel, g, field->bytes));
  return read_numbers(channel, records, row_of, *field, column);
}

}  // namespace fuelwright::signals::mdf4
