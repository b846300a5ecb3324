// What the driving itself makes useless for a table: the rows that no sensor is to blame for.
#include <cmath>

#include "advice/sensor_checks/internal/looking.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kCutGone_s = 2.0;
constexpr double kLeastMap_pa = 16e3;
constexpr double kFreeAir = 1.6;
constexpr double kWarmRow_k = 343.15;

}  // namespace

void mask_driving(Looking& l) {
  const Column* coolant = l.col(Quantity::coolant);
  const Column* map = l.col(Quantity::map);
  const Column* lambda = l.col(Quantity::lambda);
  Masks& m = l.out.masks;
  double free_air = 1e3;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!l.running[i]) m.set(Quantity::time, 1, i, i + 1, "engine standing or starting");
    if (coolant && (*coolant)[i] < kWarmRow_k)
      m.set(Quantity::time, 1, i, i + 1, "engine not warm");
    if (map && (*map)[i] < kLeastMap_pa) {
      m.set(Quantity::map, 1, i, i + 1, "overrun (MAP below 16 kPa)");
    }
    const bool lean = lambda && (*lambda)[i] >= kFreeAir;
    free_air = l.cut[i] || lean ? 0 : free_air + l.step_s;
    if (l.cut[i] || lean) {
      m.set(Quantity::lambda, 1, i, i + 1, "fuel cut or free air at the sensor");
      m.set(Quantity::lambda, 2, i, i + 1, "fuel cut or free air at the sensor");
    } else if (free_air < kCutGone_s && l.step_s > 0) {
      m.set(Quantity::lambda, 1, i, i + 1, "just after a fuel cut");
      m.set(Quantity::lambda, 2, i, i + 1, "just after a fuel cut");
    }
  }
}

}  // namespace fuelwright::advice
