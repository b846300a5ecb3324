/// Fuel pressure as the trade reads it: kPa, or psi in US units.
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <string>

#include "advice/sensor_checks/internal/looking.h"

namespace fuelwright::advice {

inline std::string rail_text(const Looking& l, double pa) {
  const auto unit = find_unit(l.car.units == UnitSystem::us ? "psi" : "kPa", Kind::pressure_step);
  return fmt::format("{:.1f} {}", pa / unit->factor, unit->symbol);
}
inline std::string rail_off_text(const Looking& l, double pa) {
  return (pa < 0 ? "-" : "+") + rail_text(l, std::abs(pa));
}

}  // namespace fuelwright::advice
