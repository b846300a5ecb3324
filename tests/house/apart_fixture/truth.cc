// A truth that takes its film from elsewhere.
#include "film.h"

namespace fuelwright::invented {

double true_wall(double kg);
double true_wall(double kg) { return left_on_the_wall(kg, 0.005) + kFilmTime_s; }

}  // namespace fuelwright::invented
