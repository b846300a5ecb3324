/// A recording: decoded channels in SI, with what is known about their time and freshness.
///
/// A channel is one column: values in SI, NaN where the file has a gap. A recording may have no
/// time at all; then its rows are in the order of the file and nothing may be said about seconds. A
/// segment is a stretch without a break. The original bytes are not in here: the caller keeps them.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "base/units/quantity.h"
#include "car/fuel/mixture.h"
#include "signals/channels/quantity.h"

namespace fuelwright::signals {

/// How often the values of a channel are renewed, as far as the values themselves show it
/// (recordings.3).
struct Refresh {
  double change_share = 0;  ///< share of the rows in which the value differs from the row before
  /// Rows from one renewal to the next; 1 is every row. Empty when the channel moves too little to
  /// tell.
  std::optional<double> rows;
};

struct Channel {
  Quantity what = Quantity::other;
  Kind kind = Kind::ratio;  ///< of the values; where `converted` is false they stand as found
  std::string header;       ///< as the file writes it, without the unit
  std::string unit_found;   ///< as the file writes it; empty if it gives none
  std::string unit;         ///< from which the values were converted ("degC", "afr 14.7")
  bool converted = true;    ///< false: no unit known, the numbers are as found (only `other`)
  bool constant = false;    ///< one value in every row
  int bank = 1;             ///< of a trim or a sensor
  double confidence = 0;    ///< 0..1 that `what` and `unit` are right; 1 when the user said so
  std::string reason;       ///< why, for people
  std::optional<car::MixtureScale> scale;  ///< on which a mixture was read; the values are lambda
  std::vector<double> si;                  ///< [row], NaN for a gap
  Refresh refresh;
};

/// Rows [first, last) without a break.
struct Segment {
  std::size_t first = 0;
  std::size_t last = 0;
  std::string label;  ///< the file's own number, or "1", "2", ...
};

/// What is known about when the rows were taken.
enum class Pace {
  timed,        ///< a column says
  stated_rate,  ///< the user gave the spacing of the rows
  untimed,      ///< rows in order, no seconds
  unordered,    ///< the user says that neighbouring rows need not follow each other
};

/// May the values of one row be taken as one instant?
enum class Simultaneity {
  simultaneous,    ///< as far as the values show
  polled_in_turn,  ///< proven by the values: channels are renewed in different rows
  unknown,         ///< too little moves to tell
};

struct Recording {
  std::string name;
  std::size_t rows = 0;
  std::vector<Channel> channels;
  std::vector<Segment> segments;
  Pace pace = Pace::untimed;
  std::string pace_reason;
  std::vector<double>
      time_s;  ///< [row], from 0, NaN where unknown; empty unless timed or stated_rate
  std::optional<Duration> row_step;  ///< mean spacing of the rows inside segments
  Simultaneity simultaneity = Simultaneity::unknown;
  std::string simultaneity_reason;
  double round_rows = 1;  ///< the longest period of renewal among the moving channels
  std::vector<std::string> warnings;

  /// The channel for a quantity, nullptr if there is none.
  const Channel* find(Quantity what, int bank = 1) const;
  /// The segment that holds a row.
  const Segment& segment_of(std::size_t row) const;
};

const char* name_of(Pace pace);
const char* name_of(Simultaneity verdict);

}  // namespace fuelwright::signals
