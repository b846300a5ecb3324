/// MDF 4 conversions: how the raw number of a channel becomes the number it stands for (CC block).
///
/// Read: none, linear, rational, tables with and without interpolation, range to value, value and
/// range to text (a text that is a number counts as that number, a nested conversion is applied).
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <unordered_map>
#include <vector>

#include "signals/recording/internal/mdf4_blocks.h"

namespace fuelwright::signals::mdf4 {

enum class ConversionKind {
  none,
  linear,       ///< p0 + p1 x
  rational,     ///< (p0 x^2 + p1 x + p2) / (p3 x^2 + p4 x + p5) (mdf4.1)
  interpolate,  ///< table, straight lines between its points, held at its ends (mdf4.2)
  nearest,      ///< table, the nearest point
  ranges,       ///< [low, high) to a value or another conversion
  unread,       ///< formulas, texts as input, tables out of order, ranges that overlap
};

struct Conversion;
using ConversionPtr = std::shared_ptr<const Conversion>;

/// What a range, a single value or the default leads to.
struct Outcome {
  double value = 0;    ///< NaN for words
  ConversionPtr next;  ///< applied to the raw number instead, if set
};

struct Range {
  double low = 0;
  double high = 0;
  Outcome to;
};

struct Conversion {
  ConversionKind kind = ConversionKind::none;
  int type = 0;  ///< as the file numbers it
  std::string unit;
  std::vector<double> p;    ///< parameters
  std::vector<double> key;  ///< [point] rising
  std::vector<double> value;
  std::vector<Range> range;  ///< by rising low, not overlapping
  Outcome otherwise;
  int levels = 0;           ///< of conversions nested in it
  bool only_words = false;  ///< no outcome is a number: the raw number says more than NaN

  /// NaN for what has no number. `whole`: the raw number is an integer, so that `high` belongs to
  /// its range.
  double operator()(double raw, bool whole) const;
};

/// Reads conversions, each once however many channels share it.
class Conversions {
 public:
  explicit Conversions(File& file) : file_(file) {}
  /// nullptr for offset 0. Errors: damaged blocks, conversions nested deeper than kDeepest.
  Result<ConversionPtr> read(std::uint64_t at, int depth = 0);

 private:
  Result<Outcome> outcome(std::uint64_t at, int depth);
  Status fill(const Block& block, std::size_t refs, int depth, Conversion& c);
  Status fill_values(const Block& block, Conversion& c) const;
  Status fill_texts(const Block& block, std::size_t refs, int depth, Conversion& c);
  Error too_deep(std::uint64_t at) const;

  File& file_;
  std::unordered_map<std::uint64_t, ConversionPtr> known_;
};

inline constexpr int kDeepest = 4;

}  // namespace fuelwright::signals::mdf4
