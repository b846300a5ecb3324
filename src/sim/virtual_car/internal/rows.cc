#include "sim/virtual_car/internal/rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

namespace fuelwright::sim::virtual_car {

Rows::Rows(const Truth& truth, std::uint64_t seed)
    : gauge_constant_(truth.sensor.gauge_constant),
      jitter_s_(truth.recorder.jitter.si),
      polled_in_(std::max(truth.recorder.polled_in, 1)),
      random_(seed, "recorder") {
  const std::vector<Column> all{
      {"RPM", "", 0, [](const Row& r, double) { return r.rpm; }},
      {"MAP (kPa)", "", 1, [](const Row& r, double) { return r.map_pa / 1e3; }},
      {"Throttle (%)", "throttle", 1, [](const Row& r, double) { return 100 * r.throttle; }},
      {"Coolant (degF)", "coolant", 1,
       [](const Row& r, double) { return in_fahrenheit(kelvin(r.coolant_k)); }},
      {"Intake air (degF)", "intake_air", 1,
       [](const Row& r, double) { return in_fahrenheit(kelvin(r.intake_k)); }},
      {"AFR", "afr", 2, [](const Row& r, double c) { return c * r.lambda[0]; }},
      {"AFR 2", "afr", 2, [](const Row& r, double c) { return c * r.lambda[1]; }},
      {"AFR target", "afr_target", 2, [](const Row& r, double c) { return c * r.lambda_target; }},
      {"Correction (%)", "correction", 1, [](const Row& r, double) { return 100 * r.correction; }},
      {"Warm-up (%)", "warm_up", 1, [](const Row& r, double) { return 100 * r.warm_up; }},
      {"Pulse width (ms)", "pulse_width", 3,
       [](const Row& r, double) { return 1e3 * r.pulse_width_s; }},
      {"MAF (g/s)", "maf", 2, [](const Row& r, double) { return 1e3 * r.metered_air_kg_s; }},
      {"Battery (V)", "battery", 2, [](const Row& r, double) { return r.battery_v; }},
      {"Fuel pressure (kPa)", "fuel_pressure", 0,
       [](const Row& r, double) { return r.rail_pa / 1e3; }},
      {"Speed (mph)", "speed", 1,
       [](const Row& r, double) { return r.speed_m_s / (1.0 * mile_per_h).si; }}};
  for (const Column& c : all) {
    const auto& missing = truth.recorder.missing;
    if (std::ranges::find(missing, std::string(c.name)) != missing.end()) continue;
    const std::string_view title = c.title;
    if (title == "AFR" && truth.sensor.fitted < 1) continue;
    if (title == "AFR 2" && (truth.sensor.fitted < 2 || truth.engine.banks < 2)) continue;
    columns_.push_back(c);
  }
}

std::string Rows::header() const {
  std::string line = "Time (s)";
  for (const Column& c : columns_) line += fmt::format(",{}", c.title);
  return line + "\n";
}

void Rows::append(std::string& text, const Row& row) {
  double seconds = row.seconds;
  if (jitter_s_ > 0) seconds += jitter_s_ * random_.normal();
  seconds = std::max(seconds, last_s_ + 0.001);
  last_s_ = seconds;
  fmt::format_to(std::back_inserter(text), "{:.3f}", std::max(seconds, 0.0));
  for (std::size_t k = 0; k < columns_.size(); ++k) {
    Column& c = columns_[k];
    const bool turn = row_ == 0 || static_cast<long>(k) % polled_in_ == row_ % polled_in_;
    if (turn) c.held = c.value(row, gauge_constant_);
    fmt::format_to(std::back_inserter(text), ",{:.{}f}", c.held + 0.0, c.digits);
  }
  text += '\n';
  ++row_;
}

}  // namespace fuelwright::sim::virtual_car
