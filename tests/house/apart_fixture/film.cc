#include "film.h"

#include <cmath>

namespace fuelwright::invented {

const double kFilmTime_s = 0.4;

double left_on_the_wall(double on_it_kg, double time_s) {
  return on_it_kg * std::exp(-time_s / kFilmTime_s);
}

}  // namespace fuelwright::invented
