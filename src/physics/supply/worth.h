/// Which measurement is worth doing first.
///
/// The margin at the decisive place moves by J_k when unknown k moves by one standard deviation; a
/// measurement that tells some of them leaves its own error r:
///
///   before^2 = sum J_k^2 + engine^2,   after^2 = sum of the others + r^2 (supply.22) chance of a
///   wrong answer = E min(P(short), P(enough)),  before and after            (supply.23)
///
/// after (supply.23) by the mean over what the measurement may show (normal). The most worthwhile
/// leaves the smallest chance of a wrong answer; equal ones by the time they take. A recorded pull
/// needs full throttle with a supply that may be short: where the doubt is real (above 5 %), what
/// can be done standing and takes away half of that chance or more comes before it.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "physics/supply/from_sheet.h"
#include "physics/supply/margins.h"

namespace fuelwright::physics::supply {

enum class Measurement : std::uint8_t {
  timed_delivery,    ///< pump, filter and hose into a can at the rail's pressure
  pump_volts,        ///< at the pump under load
  rail_trace,        ///< rail pressure recorded in a pull
  injectors_flowed,  ///< on a bench, each one
  fuel_checked,      ///< share of alcohol and density of what is in the tank
};
inline constexpr Measurement kMeasurements[] = {
    Measurement::timed_delivery, Measurement::pump_volts, Measurement::rail_trace,
    Measurement::injectors_flowed, Measurement::fuel_checked};
const char* name_of(Measurement what);

struct Worth {
  Measurement what{};
  double before = 0;        ///< 95 % half-width of the decisive margin
  double after = 0;         ///< the same, once it has been measured
  double wrong_before = 0;  ///< chance that "enough" or "short" is the wrong answer
  double wrong_after = 0;
  Duration takes{};         ///< about (practice)
  bool needs_pull = false;  ///< full throttle on a closed road
};

/// Where and on which side the answer is decided, and the 95 % half-width of the need there that
/// comes from the engine (share).
struct Decisive {
  Need need;
  Side side{};
  double margin = 0;
  double engine_half = 0;
};
/// The most worthwhile first.
std::vector<Worth> worth_measuring(const Supplied& from, const Decisive& where);

}  // namespace fuelwright::physics::supply
