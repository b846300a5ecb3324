/// Cars whose pump is weaker than its box says: what the computed fuel supply expects of rail
/// pressure and mixture at full throttle, and what is then driven.
///
/// Each car is driven twice by the same plan of one full pull: with its own pump, and with a strong
/// one in its place. What the weak pump does to the mixture is the ratio of both, at equal speed.
/// Nothing is shared between the car and the prediction but the sheet: the car's pump, regulator
/// and dead time follow laws of their own (docs/theory/virtual_car.md).
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"

namespace fuelwright::bench {

/// Low, middle and high of 95 %.
struct Expected {
  double low = 0, middle = 0, high = 0;
  bool holds(double x) const { return low <= x && x <= high; }
};

struct SagPoint {
  EngineSpeed speed;
  double rail_kpa = 0;  ///< driven
  double leaner = 0;    ///< driven: ln lambda over that with a strong pump
  double missing =
      0;  ///< driven: ln of the fuel injected with a strong pump over that with its own
  Expected rail_by_rating, leaner_by_rating;  ///< before any drive
  Expected rail_by_pull, leaner_by_pull;      ///< after the lower part of the pull was recorded
};

/// honest: the pump is one of those that its rating and tolerance allow, recorded up to 4400 rpm.
/// worn: it sends 0.60 to 0.75 of a rating that claims +-7 %, recorded up to 5000 rpm.
enum class Pumps { honest, worn };

struct SagCar {
  int seed = 0;
  double strength = 1;           ///< the pump's flow over its rating
  double seen_to_rpm = 0;        ///< the recorded part of the pull ends there
  bool sag_seen = false;         ///< the rail had fallen by 4 % where the recorded part ends
  std::vector<SagPoint> beyond;  ///< speeds that were not recorded
};

/// The same seed gives the same car. Errors: those of the virtual car and of drawn_supply().
Result<SagCar> sag_car(int seed, Pumps pumps);

/// Of the cars whose sag was seen in the recorded part, or of all.
enum class Which { all, sag_seen };
struct SagScore {
  int cars = 0;
  int points = 0, sagging = 0;  ///< all; those where more than 2 % of the fuel is missing
  double rail_rms_kpa = 0, missing_rms = 0,
         leaner_rms = 0;                   ///< of the middle against what was driven
  double rail_held = 0, missing_held = 0;  ///< share within the 95 % intervals
  double beyond_three_percent = 0;         ///< share of sagging points with more than 3 % missing
};
SagScore score(const std::vector<SagCar>& cars, bool by_pull, Which which);
std::string table(const std::vector<SagCar>& cars);

}  // namespace fuelwright::bench
