/// Corpus: files as they come from loggers, made here with the truth beside them.
///
/// honest_files(): each must be read with every channel, unit and second right. dishonest_files():
/// each must be refused in one clear line. All are made from one short invented drive, so the truth
/// of every cell is known.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "signals/channels/quantity.h"
#include "signals/recording/recording.h"

namespace fuelwright::corpus {

/// A channel as it must be read: SI, NaN for a gap.
struct Truth {
  signals::Quantity what;
  int bank = 1;
  std::vector<double> si;
};

struct HonestFile {
  std::string name;
  std::string bytes;
  signals::Answers answers;
  std::vector<Truth> channels;
  std::vector<double> time_s;  ///< from 0; empty: the file has none
  std::size_t segments = 1;
};

struct DishonestFile {
  std::string name;
  std::string bytes;
  ErrorCode code;
  std::string says;  ///< must stand in the line
  signals::Answers answers;
};

/// One column of a file that is being made. SI = number in the file * factor + offset.
struct Column {
  signals::Quantity what;
  std::string header;
  std::string unit;  ///< for brackets, a row of units or the cells; empty: none
  double factor = 1;
  double offset = 0;
  int decimals = 1;
  std::vector<double> si;
  int bank = 1;
};

/// How a file is written.
struct Style {
  enum class Units { brackets, square, row, cells, cells_apart, nowhere };
  char separator = ',';
  bool decimal_comma = false;
  bool quoted = false;
  Units units = Units::brackets;
  std::string line_end = "\n";
  std::string before;    ///< the header
  std::string row_tail;  ///< behind every row, such as a trailing separator
  std::string gap;       ///< what stands where there is no value
};

/// A file in the making: columns and a style, and the time in a column of its own in front.
struct Draft {
  std::vector<Column> columns;
  Style style;
  std::vector<std::string> clock;  ///< cells of the time; empty: no time
  std::string clock_header = "Time (s)";
  std::vector<double> time_s;

  std::string header() const;
  std::string row(std::size_t i) const;
  std::string rows(std::size_t first, std::size_t last) const;
  /// The whole file.
  std::string text() const;
  /// The file and its truth; each value is the one that was written.
  HonestFile file(const std::string& name) const;
};

inline constexpr std::size_t kRows = 400;
inline constexpr double kStep_s = 0.1;

/// Engine speed, pressure, throttle, coolant, intake air, lambda, pulse width, battery and road
/// speed of an invented car, in SI.
std::vector<double> driven(signals::Quantity what);
/// The nine columns of that drive with the usual names and units.
Draft usual_draft();
/// Number of the column of a quantity.
Column& column(Draft& draft, signals::Quantity what);

std::vector<HonestFile> honest_forms();
std::vector<HonestFile> honest_times();
std::vector<HonestFile> honest_names();
std::vector<HonestFile> honest_units();
std::vector<HonestFile> honest_files();

std::vector<DishonestFile> dishonest_bytes();
std::vector<DishonestFile> dishonest_cells();
std::vector<DishonestFile> dishonest_meanings();
std::vector<DishonestFile> dishonest_files();

}  // namespace fuelwright::corpus
