// What was not said: asked for where nothing can stand for it, otherwise filled from the rules of
// the key table.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/build/internal/reading.h"

namespace fuelwright::car {
namespace {

// A rule's answer in SI, kept inside the key's limits.
Held held_from(const Key& key, const Guess& guess, const Sheet& sheet) {
  const Kind kind = kind_of(key, sheet);
  const std::string unit = unit_of(key, sheet);
  const bool limited = key.low < key.high;
  Held out{{}, guess.tolerance, guess.text, guess.source, guess.reason};
  for (const double value : guess.values) {
    EXPECTS(std::isfinite(value));
    out.numbers.push_back(
        to_si(limited ? std::clamp(value, key.low, key.high) : value, kind, unit));
  }
  if (key.at.form == Form::number) out.tolerance = step_to_si(guess.tolerance, kind, unit);
  return out;
}

void need(Reading& r, const std::string& path, const char* what) {
  if (r.has(path)) return;
  r.report(path, ErrorCode::needs_answer, fmt::format("is missing: {}", what));
}

void fill_sensors(Reading& r) {
  for (std::size_t i = 0; i < r.sheet.sensors.mixture.size(); ++i) {
    for (const Key& key : sensor_keys()) {
      if (key.typical == nullptr || r.has(fmt::format("sensors.mixture.{}.{}", i + 1, key.key)))
        continue;
      key.at.set(r.sheet, i, held_from(key, key.typical({r.sheet, r.given}), r.sheet));
    }
  }
}

}  // namespace

void check_required(Reading& r) {
  if (!r.has("engine.displacement") && !(r.has("engine.bore") && r.has("engine.stroke"))) {
    r.report("engine.displacement", ErrorCode::needs_answer,
             "is missing: say the displacement (\"5.7 l\"), or bore and stroke");
  }
  need(r, "engine.cylinders", "how many cylinders");
  need(r, "cam.intake_duration_050",
       "the intake duration at 0.050 in (\"214 deg\"), from the cam card");
  need(r, "injection.injector_flow",
       "the flow of one injector at its pressure (\"36 lb/h at 43.5 psi\")");
  if (r.has("injection.injector_flow")) {
    need(r, "injection.injector_pressure",
         "the pressure at which the injector flow is stated (often 43.5 psi = 3 bar, never "
         "assumed)");
  }
  need(r, "fuel.name", "the fuel (petrol, E10, E85, ...)");
  for (const char* path : {"heads.flow_intake", "heads.flow_exhaust"}) {
    if (r.has(path) && !r.has("heads.flow_lift")) {
      r.report(path, ErrorCode::needs_answer, "at which lifts? Say heads.flow_lift");
    }
    if (r.has(path) && !r.has("heads.flow_depression")) {
      r.report(
          path, ErrorCode::needs_answer,
          "at which depression? Say heads.flow_depression (often \"28 inH2O\", never assumed)");
    }
  }
  check_supply_required(r);
}

void fill_typical(Reading& r) {
  for (const Key& key : all_keys()) {
    if (r.has(key.path()) || key.typical == nullptr) continue;
    key.at.set(r.sheet, 0, held_from(key, key.typical({r.sheet, r.given}), r.sheet));
  }
  fill_sensors(r);
}

}  // namespace fuelwright::car
