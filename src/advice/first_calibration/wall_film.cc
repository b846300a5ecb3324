#include "advice/first_calibration/wall_film.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {

WallFilm typical_film(car::InjectionArrangement arrangement, Temperature coolant) {
  const double cold = std::clamp(80 - in_celsius(coolant), -30.0, 120.0);  // K below warm
  const bool ports = arrangement == car::InjectionArrangement::ports;
  const double warm_wetting = ports ? 0.20 : 0.40;
  const double warm_s = ports ? 0.40 : 0.90;
  return {std::clamp(warm_wetting + 0.0025 * cold, 0.05, 0.75),
          warm_s * std::exp(cold / 80) * second};
}

double tip_in_share(const WallFilm& film, double rise_pa_s, AbsolutePressure p) {
  EXPECTS(film.wetting > 0 && film.wetting < 1 && rise_pa_s >= 0 && p.from_zero.si > 0);
  const double a = film.wetting * film.leaving.si * rise_pa_s / p.from_zero.si;
  return a / (1 + a * (1 - film.wetting) / film.wetting);  // (first.11)
}

}  // namespace fuelwright::advice
