#include "signals/recording/internal/mdf4_conversion.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "signals/recording/internal/cells.h"

namespace fuelwright::signals::mdf4 {
namespace {

constexpr double kWords = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t kFixed = 24;  // bytes before the parameters
constexpr std::size_t kOwnLinks = 4;

// A table's pairs of key and value; false if the keys do not rise.
bool read_points(Conversion& out) {
  const auto& p = out.p;
  if (p.size() < 2 || p.size() % 2 != 0) return false;
  for (std::size_t i = 0; i < p.size(); i += 2) {
    const bool finite = std::isfinite(p[i]) && std::isfinite(p[i + 1]);
    if (!finite || (i > 0 && !(p[i] > out.key.back()))) return false;
    out.key.push_back(p[i]);
    out.value.push_back(p[i + 1]);
  }
  return true;
}

// False if ranges overlap. Of the same range twice the first holds.
bool sort_ranges(Conversion& out) {
  for (const Range& r : out.range) {
    if (!(r.low <= r.high)) return false;
  }
  std::ranges::stable_sort(out.range, {}, &Range::low);
  const auto again = std::ranges::unique(
      out.range, [](const Range& a, const Range& b) { return a.low == b.low && a.high == b.high; });
  out.range.erase(again.begin(), again.end());
  for (std::size_t i = 1; i < out.range.size(); ++i) {
    if (out.range[i - 1].high > out.range[i].low || out.range[i - 1].low == out.range[i].low) {
      return false;
    }
  }
  return true;
}

Status shape_error(const File& file, const Block& block, const Conversion& c) {
  return file.error(
      block.at, fmt::format("a conversion of type {} came with {} numbers", c.type, c.p.size()));
}

double interpolated(const Conversion& c, double x) {
  const auto above = std::ranges::lower_bound(c.key, x);
  if (above == c.key.begin()) return c.value.front();
  if (above == c.key.end()) return c.value.back();
  const auto i = static_cast<std::size_t>(above - c.key.begin());
  const double part = (x - c.key[i - 1]) / (c.key[i] - c.key[i - 1]);
  return c.value[i - 1] + part * (c.value[i] - c.value[i - 1]);  // (mdf4.2)
}

double nearest_point(const Conversion& c, double x) {
  const auto above = std::ranges::lower_bound(c.key, x);
  if (above == c.key.begin()) return c.value.front();
  if (above == c.key.end()) return c.value.back();
  const auto i = static_cast<std::size_t>(above - c.key.begin());
  return x - c.key[i - 1] <= c.key[i] - x ? c.value[i - 1] : c.value[i];
}

double led_to(const Outcome& to, double raw, bool whole) {
  return to.next ? (*to.next)(raw, whole) : to.value;
}

double ranged(const Conversion& c, double x, bool whole) {
  const auto above = std::ranges::upper_bound(c.range, x, {}, &Range::low);
  if (above == c.range.begin()) return led_to(c.otherwise, x, whole);
  const Range& r = *(above - 1);
  const bool inside = x < r.high || x == r.low || (whole && x == r.high);
  return led_to(inside ? r.to : c.otherwise, x, whole);
}

bool is_number(const Outcome& o) { return !std::isnan(o.value) || (o.next && !o.next->only_words); }

}  // namespace

double Conversion::operator()(double x, bool whole) const {
  if (std::isnan(x)) return x;
  switch (kind) {
    case ConversionKind::none:
      return x;
    case ConversionKind::linear:
      return p[0] + p[1] * x;
    case ConversionKind::rational:
      return (p[0] * x * x + p[1] * x + p[2]) / (p[3] * x * x + p[4] * x + p[5]);  // (mdf4.1)
    case ConversionKind::interpolate:
      return interpolated(*this, x);
    case ConversionKind::nearest:
      return nearest_point(*this, x);
    case ConversionKind::ranges:
      return only_words ? x : ranged(*this, x, whole);
    case ConversionKind::unread:
      break;
  }
  return kWords;
}

// A text that is a number, words, or another conversion.
Result<Outcome> Conversions::outcome(std::uint64_t at, int depth) {
  Outcome out{kWords, nullptr};
  if (at == 0) return out;
  FW_TRY(const Block block, file_.block(at, "", 0, 0));
  if (block.id == "CC") {
    FW_TRY(out.next, read(at, depth + 1));
    return out;
  }
  FW_TRY(const std::string text, file_.text(at));
  const Cell cell = read_cell(text, false);
  if (cell.kind == CellKind::number) out.value = cell.value;
  return out;
}

// Ranges to value: triples of low, high, value and a default at the end.
Status Conversions::fill_values(const Block& block, Conversion& c) const {
  if (c.p.size() % 3 != 1) return shape_error(file_, block, c);
  for (std::size_t i = 0; i + 2 < c.p.size(); i += 3) {
    c.range.push_back({c.p[i], c.p[i + 1], {c.p[i + 2], nullptr}});
  }
  c.otherwise.value = c.p.back();
  if (!sort_ranges(c)) c.kind = ConversionKind::unread;
  return Done{};
}

// Single values (type 7) or pairs of low and high (type 8), each with a reference, and one more for
// the default.
Status Conversions::fill_texts(const Block& block, std::size_t refs, int depth, Conversion& c) {
  const std::size_t each = c.type == 7 ? 1 : 2;
  const std::size_t n = c.p.size() / each;
  if (c.p.size() % each != 0 || refs < n) return shape_error(file_, block, c);
  c.only_words = true;
  for (std::size_t i = 0; i <= n; ++i) {
    FW_TRY(const Outcome to, outcome(i < refs ? block.link(kOwnLinks + i) : 0, depth));
    c.only_words = c.only_words && !is_number(to);
    if (to.next) c.levels = std::max(c.levels, to.next->levels + 1);
    if (i == n) {
      c.otherwise = to;
    } else {
      c.range.push_back({c.p[each * i], c.p[each * i + each - 1], to});
    }
  }
  if (c.levels > kDeepest) return too_deep(block.at);
  if (!sort_ranges(c)) c.kind = ConversionKind::unread;
  return Done{};
}

Status Conversions::fill(const Block& block, std::size_t refs, int depth, Conversion& c) {
  switch (c.type) {
    case 0:
      return Done{};
    case 1:
      c.kind = ConversionKind::linear;
      return c.p.size() < 2 ? shape_error(file_, block, c) : Done{};
    case 2:
      c.kind = ConversionKind::rational;
      return c.p.size() < 6 ? shape_error(file_, block, c) : Done{};
    case 4:
    case 5:
      c.kind = c.type == 4 ? ConversionKind::interpolate : ConversionKind::nearest;
      if (!read_points(c)) c.kind = ConversionKind::unread;
      return Done{};
    case 6:
      c.kind = ConversionKind::ranges;
      return fill_values(block, c);
    case 7:
    case 8:
      c.kind = ConversionKind::ranges;
      return fill_texts(block, refs, depth, c);
    default:
      c.kind = ConversionKind::unread;
      return Done{};
  }
}

Error Conversions::too_deep(std::uint64_t at) const {
  return file_.error(at, fmt::format("conversions are nested deeper than {}", kDeepest));
}

Result<ConversionPtr> Conversions::read(std::uint64_t at, int depth) {
  if (at == 0) return ConversionPtr{};
  if (const auto seen = known_.find(at); seen != known_.end()) return seen->second;
  if (depth > kDeepest) return too_deep(at);
  FW_TRY(const Block block, file_.block(at, "CC", kOwnLinks, kFixed));
  auto made = std::make_shared<Conversion>();
  made->type = static_cast<int>(number_at(block.data, 0, 1));
  const auto refs = static_cast<std::size_t>(number_at(block.data, 4, 2));
  const auto values = static_cast<std::size_t>(number_at(block.data, 6, 2));
  if (refs > block.links() - kOwnLinks || values > (block.data.size() - kFixed) / 8) {
    return file_.error(at, fmt::format("a conversion claims {} references and {} numbers, more "
                                       "than its block holds",
                                       refs, values));
  }
  FW_CHECK(file_.spend(at, 8 * (refs + values)));
  FW_TRY(made->unit, file_.text(block.link(1)));
  for (std::size_t i = 0; i < values; ++i) made->p.push_back(real_at(block.data, kFixed + 8 * i));
  FW_CHECK(fill(block, refs, depth, *made));
  known_.emplace(at, made);
  return ConversionPtr(made);
}

}  // namespace fuelwright::signals::mdf4
