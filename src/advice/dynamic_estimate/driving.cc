#include "advice/dynamic_estimate/driving.h"

#include "advice/dynamic_estimate/internal/driving_maker.h"

namespace fuelwright::advice {

Result<Driving> Driving::make(const signals::Recording& recording, const car::Sheet& sheet,
                              const car::Surface& start, const car::Surface& driven,
                              const ObserveOptions& options) {
  FW_CHECK(check_pace(recording));
  FW_TRY(const FuelFrom from, choose_fuel(recording, options, start.grid));
  DrivingMaker maker(recording, sheet, start, driven, options, from);
  maker.add(recording);
  if (!maker.clock().regular()) return irregular_clock(recording.name);
  if (from == FuelFrom::pulse_width_and_target) {
    FW_TRY(const bool fitted, maker.fit_law());
    static_cast<void>(fitted);  // nothing warm: nothing will be learned from it either
  }
  maker.end();
  return maker.take();
}

}  // namespace fuelwright::advice
