/// A recording under the guard, and the tables' nodes that no revision may lean because of it.
///
///   const GuardReport report = guard_recording(recording, rules, sheet);
///   const std::vector<bool> kept = guarded_nodes(report, recording, table.grid);
///   keep_from_leaning(proposed, in_force, kept);
///
#pragma once

#include <string>
#include <vector>

#include "advice/guard/guard.h"
#include "car/tables/surface.h"
#include "signals/channels/channel.h"

namespace fuelwright::advice {

struct GuardReport {
  std::vector<Firing> firings;           ///< each over, in the order in which they began
  std::vector<std::string> watched;      ///< rules that could be judged
  std::vector<std::string> not_watched;  ///< "oil pressure: not recorded"
  double seconds = 0;                    ///< of recording judged
  bool stop() const { return !firings.empty(); }
};

/// The moments of a recording, row by row. Oil pressure and knock are found by their header among
/// the channels whose quantity is `other`. A recording without time is judged by nothing that needs
/// a dwell: all rules go to not_watched.
class Moments {
 public:
  explicit Moments(const signals::Recording& recording);
  SignalSet signals() const { return set_; }
  std::size_t size() const { return recording_->rows; }
  void get(std::size_t row, Moment& into) const;

 private:
  const signals::Recording* recording_;
  SignalSet set_;
  std::array<const signals::Channel*, kSignals> channel_{};
};

GuardReport guard_recording(const signals::Recording& recording, const Rules& rules,
                            const car::Sheet& sheet);

/// One a node of the grid: true if the table was looked up there while a rule was broken, or a
/// second before (the reading is that much later than the table).
std::vector<bool> guarded_nodes(const GuardReport& report, const signals::Recording& recording,
                                const car::Grid& grid, AbsolutePressure ambient);

/// Where `guarded`, a proposal that needs less fuel than the table in force is put back to it.
/// Returns the number of nodes changed. Tables of fuel (VE, correction): more is richer.
int keep_from_leaning(car::Surface& proposed, const car::Surface& in_force,
                      const std::vector<bool>& guarded);

}  // namespace fuelwright::advice
