/// A film that two sides should not share: what the check of shared names is tried on.
#pragma once

namespace fuelwright::invented {

/// Fuel left on the wall after a step [kg].
double left_on_the_wall(double on_it_kg, double time_s);
extern const double kFilmTime_s;

}  // namespace fuelwright::invented
