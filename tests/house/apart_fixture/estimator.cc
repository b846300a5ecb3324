// An estimator that takes the same film.
#include "film.h"

namespace fuelwright::invented {

double estimated_wall(double kg);
double estimated_wall(double kg) { return left_on_the_wall(kg, 0.05) - kFilmTime_s; }

}  // namespace fuelwright::invented
