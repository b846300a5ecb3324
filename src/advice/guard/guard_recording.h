/// A recording under the guard.
///
///   const GuardReport report = guard_recording(recording, rules, sheet);
///   for (const Firing& f : report.firings) say(in_words(f));
///
#pragma once

#include <string>
#include <vector>

#include "advice/guard/guard.h"
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

}  // namespace fuelwright::advice
