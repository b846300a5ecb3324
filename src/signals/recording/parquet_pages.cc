// What stands inside pages: values, dictionary numbers, levels, statistics.
#include "signals/recording/internal/parquet_pages.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>

#include "base/contract.h"

namespace fuelwright::signals {
namespace {

static_assert(std::endian::native == std::endian::little, "Parquet is little-endian");

template <class T>
std::string plain(const T& value) {
  return {reinterpret_cast<const char*>(&value), sizeof(T)};
}

template <class T>
std::string plain_all(const std::vector<T>& values) {
  return {reinterpret_cast<const char*>(values.data()), values.size() * sizeof(T)};
}

void append_run(std::string& out, std::uint32_t value, std::size_t count, unsigned width) {
  for (std::size_t v = count << 1;; v >>= 7) {
    out += static_cast<char>(v >= 0x80 ? (v & 0x7F) | 0x80 : v);
    if (v < 0x80) break;
  }
  for (unsigned byte = 0; byte < (width + 7) / 8; ++byte) {
    out += static_cast<char>(value >> 8 * byte);
  }
}

// Eights of values, low bits first; the last one is filled up with zeros.
void append_packed(std::string& out, const std::uint32_t* values, std::size_t count,
                   unsigned width) {
  const std::size_t eights = (count + 7) / 8;
  for (std::size_t v = eights << 1 | 1;; v >>= 7) {
    out += static_cast<char>(v >= 0x80 ? (v & 0x7F) | 0x80 : v);
    if (v < 0x80) break;
  }
  std::uint64_t bits = 0;
  unsigned held = 0;
  for (std::size_t i = 0; i < eights * 8; ++i) {
    bits |= static_cast<std::uint64_t>(i < count ? values[i] : 0) << held;
    for (held += width; held >= 8; held -= 8, bits >>= 8) out += static_cast<char>(bits);
  }
}

template <class T>
PlainValues plain_reals(const std::vector<T>& values) {
  PlainValues out{plain_all(values), {}, {}};
  bool any = false;
  T low = 0;
  T high = 0;
  for (const T v : values) {
    if (std::isnan(v)) continue;  // has no place in an order
    low = any ? std::min(low, v) : v;
    high = any ? std::max(high, v) : v;
    any = true;
  }
  if (!any) return out;
  // A zero bounds both zeros.
  if (low == 0) low = -T{0};
  if (high == 0) high = T{0};
  out.range = ParquetRange{plain(low), plain(high)};
  return out;
}

}  // namespace

std::string parquet_runs(const std::vector<std::uint32_t>& values, unsigned width) {
  constexpr std::size_t kWorthARun = 8;
  std::string out;
  std::size_t packed = 0;  // first value that is not written yet
  std::size_t i = 0;
  while (i < values.size()) {
    std::size_t end = i + 1;
    while (end < values.size() && values[end] == values[i]) ++end;
    // What waits is filled up to a whole eight from the run itself.
    const std::size_t waiting = i - packed;
    const std::size_t fill = std::min(end - i, (8 - waiting % 8) % 8);
    if (end - i >= fill + kWorthARun) {
      if (waiting > 0) append_packed(out, &values[packed], waiting + fill, width);
      append_run(out, values[i], end - i - fill, width);
      packed = end;
    }
    i = end;
  }
  if (packed < values.size()) append_packed(out, &values[packed], values.size() - packed, width);
  return out;
}

std::string with_levels(const std::vector<std::uint8_t>& present, std::size_t rows,
                        const std::string& body) {
  const std::string levels =
      present.empty() ? parquet_runs(std::vector<std::uint32_t>(rows, 1), 1)
                      : parquet_runs(std::vector<std::uint32_t>(present.begin(), present.end()), 1);
  return plain(static_cast<std::uint32_t>(levels.size())) + levels + body;
}

PlainValues plain_values(const std::vector<std::int64_t>& values) {
  PlainValues out{plain_all(values), {}, {}};
  if (values.empty()) return out;
  const auto [low, high] = std::ranges::minmax_element(values);
  out.range = ParquetRange{plain(*low), plain(*high)};
  return out;
}

PlainValues plain_values(const std::vector<float>& values) { return plain_reals(values); }
PlainValues plain_values(const std::vector<double>& values) { return plain_reals(values); }

PlainValues plain_values(const std::vector<std::string_view>& values) {
  std::map<std::string_view, std::uint32_t> number;
  for (const std::string_view v : values) number.emplace(v, 0);
  PlainValues out;
  std::string words;
  std::uint32_t next = 0;
  for (auto& [word, n] : number) {
    n = next++;
    words += plain(static_cast<std::uint32_t>(word.size()));
    words += word;
  }
  std::vector<std::uint32_t> numbers;
  numbers.reserve(values.size());
  for (const std::string_view v : values) numbers.push_back(number.at(v));
  const unsigned width =
      std::max(1U, static_cast<unsigned>(std::bit_width(next > 0 ? next - 1 : 0U)));
  out.body = static_cast<char>(width) + parquet_runs(numbers, width);
  out.dictionary = Dictionary{std::move(words), next};
  if (!number.empty()) {
    out.range =
        ParquetRange{std::string(number.begin()->first), std::string(number.rbegin()->first)};
  }
  return out;
}

}  // namespace fuelwright::signals
