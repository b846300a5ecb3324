// An estimator that takes it by a go-between.
namespace fuelwright::invented {

double wet(double kg);
double sly_wall(double kg);
double sly_wall(double kg) { return wet(kg) * 2; }

}  // namespace fuelwright::invented
