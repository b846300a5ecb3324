#include "sim/road_drive/internal/rows.h"

#include <fmt/format.h>

#include <iterator>

#include "base/units/points.h"

namespace fuelwright::sim {

std::string header_line(const Columns& c) {
  std::string line = "Time (s),RPM,MAP (kPa)";
  if (c.throttle) line += ",Throttle (%)";
  line += ",Coolant (degF),Intake air (degF),AFR";
  if (c.afr_target) line += ",AFR target";
  if (c.correction) line += ",Correction (%)";
  if (c.warm_up) line += ",Warm-up (%)";
  if (c.pulse_width) line += ",Pulse width (ms)";
  if (c.metered_air) line += ",MAF (g/s)";
  return line + ",Battery (V),Speed (mph)\n";
}

void append_row(std::string& text, const Row& r, const Columns& c, double gauge_constant) {
  const auto put = [&text](double value, int digits) {
    fmt::format_to(std::back_inserter(text), ",{:.{}f}", value + 0.0, digits);
  };
  fmt::format_to(std::back_inserter(text), "{:.3f}", r.seconds);
  put(r.rpm, 0);
  put(r.map_pa / 1e3, 1);
  if (c.throttle) put(100 * r.throttle, 1);
  put(in_fahrenheit(kelvin(r.coolant_k)), 1);
  put(in_fahrenheit(kelvin(r.intake_k)), 1);
  put(r.lambda * gauge_constant, 2);
  if (c.afr_target) put(r.lambda_target * gauge_constant, 2);
  if (c.correction) put(100 * r.correction, 1);
  if (c.warm_up) put(100 * r.warm_up, 1);
  if (c.pulse_width) put(1e3 * r.pulse_width_s, 3);
  if (c.metered_air) put(1e3 * r.metered_air_kg_s, 2);
  put(r.battery_v, 2);
  put(r.speed_m_s / (1.0 * mile_per_h).si, 1);
  text += '\n';
}

}  // namespace fuelwright::sim
