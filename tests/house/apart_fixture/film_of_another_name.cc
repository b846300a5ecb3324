// A go-between, so that one side does not name the film itself.
#include "film.h"

namespace fuelwright::invented {

double wet(double kg);
double wet(double kg) { return left_on_the_wall(kg, 0.01); }

}  // namespace fuelwright::invented
