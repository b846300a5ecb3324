/// A Driving that grows while the car drives: channels come a second at a time, settled rows go
/// out.
///
///   FW_TRY(LiveDriving live, LiveDriving::begin(first_second, sheet, start, driven, {}, law));
///   FW_CHECK(live.add(second));
///   ride.add(live.next());                      // RunningEstimate (incremental.h)
///
/// A row is settled when no later row can change it. Most are at once; a row that may stand alone
/// between two breaks waits for its next one; without a pulse width the last 1.5 s wait, for a fuel
/// cut shows in the reading only then. However the rows came in, they are those of
/// Driving::make() with the same law.
///
/// The unit's charge law (dynamic.3) is fitted to a whole recording there. Here it is held: that of
/// an earlier recording of the same unit and calibration, or one fitted to the drive so far.
/// Without either the rows teach nothing until fit_law(), after which all rows are to be taken
/// anew:
///
///   if (live.needs_law()) { FW_TRY(bool fitted, live.fit_law()); if (fitted)
///   ride.replace(live.all()); }
#pragma once

#include <memory>
#include <optional>

#include "advice/dynamic_estimate/driving.h"

namespace fuelwright::advice {

class LiveDriving {
 public:
  /// `first`: the first rows, on a regular clock with its step; says which channels there are. All
  /// else as Driving::make(), and its errors. Sheet and tables are copied.
  static Result<LiveDriving> begin(const signals::Recording& first, const car::Sheet& sheet,
                                   const car::Surface& start, const car::Surface& driven,
                                   const ObserveOptions& options,
                                   const std::optional<HeldLaw>& law = {});
  ~LiveDriving();
  LiveDriving(LiveDriving&&) noexcept;
  LiveDriving& operator=(LiveDriving&&) noexcept;

  /// The rows that follow, on the same clock (time_s goes on). A channel of the first rows may be
  /// missing or have gaps: it is held for 0.6 s. Errors: bad_input if time runs backwards or a row
  /// has none; not_found if the clock turns out irregular, as Driving::make().
  Status add(const signals::Recording& piece);

  /// Settled rows that were not handed out yet.
  Driving next();
  /// All settled rows; next() goes on after them.
  Driving all();

  /// Rows teach nothing for want of the unit's law.
  bool needs_law() const;
  /// Fits the law to all rows so far. False: no warm row to fit to. Errors: conflict, as
  /// Driving::make(); then there is no law any more.
  Result<bool> fit_law();

 private:
  class Inside;
  explicit LiveDriving(std::unique_ptr<Inside> inside);
  std::unique_ptr<Inside> in_;
};

}  // namespace fuelwright::advice
