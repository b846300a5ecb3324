// Uncertain parts of intake and exhaust, and what no sheet states. What a measurement leaves is
// common practice, no source.
#include <cctype>
#include <string_view>

#include "physics/ensemble/internal/parts_list.h"

namespace fuelwright::physics::internal {
namespace {

constexpr const char* kRunners = "measuring the runners";
constexpr const char* kHeaders = "measuring the headers";
constexpr const char* kGauge = "a pressure gauge in the exhaust";
constexpr double kTape = 0.03;          // of a length, along a bent pipe
constexpr double kCalliper_m = 0.0005;  // of a diameter
constexpr double kGauge_pa = 1500;
constexpr double kNegligible = 0.005;  // of a length or diameter of a pipe
constexpr double kNegligible_pa = 200;

std::string millimetres(double m) { return fmt::format("{:.2g} mm", m * 1e3); }

template <class Section>
void add_pipe(const std::string& section, Section car::Sheet::*part, const char* key,
              const char* name, car::Known<Length> Section::*at, const Measuring& measuring,
              const car::Sheet& sheet, PartsList* list) {
  const auto& length = sheet.*part.*at;
  const double half = length.tolerance.si;
  list->add(
      {.id = section + "." + key, .name = name, .group = section, .half_width = millimetres(half)},
      length.source, half, kNegligible * length.value.si, measuring,
      [half, part, at](Variant& v, double z) {
        double& si = (v.sheet.*part.*at).value.si;
        si = moved(si, step_of(half, z));
      });
}

// All runners together; how they differ among each other stays.
void add_runner_length(const car::Sheet& sheet, PartsList* list) {
  const auto& runner = sheet.intake.runner_length;
  const double half = runner.tolerance.si;
  list->add({.id = "intake.runner_length",
             .name = "runner length",
             .group = "intake",
             .half_width = millimetres(half)},
            runner.source, half, kNegligible * runner.value.si, {kRunners, kTape * runner.value.si},
            [half](Variant& v, double z) {
              double& si = v.sheet.intake.runner_length.value.si;
              const double factor = moved(si, step_of(half, z)) / si;
              si *= factor;
              for (Length& one : v.sheet.intake.runner_lengths.values) one.si *= factor;
            });
}

void add_plenum(const car::Sheet& sheet, PartsList* list) {
  const auto& plenum = sheet.intake.plenum_volume;
  const double half = plenum.tolerance.si;
  constexpr double kFilling = 0.05;  // of the volume, filled with water or measured inside
  list->add({.id = "intake.plenum_volume",
             .name = "plenum volume",
             .group = "intake",
             .half_width = fmt::format("{:.2g} l", half * 1e3)},
            plenum.source, half, 0.02 * plenum.value.si,
            {"measuring the plenum", kFilling * plenum.value.si}, [half](Variant& v, double z) {
              double& si = v.sheet.intake.plenum_volume.value.si;
              si = moved(si, step_of(half, z));
            });
}

void add_back_pressure(const car::Sheet& sheet, PartsList* list) {
  const auto& back = sheet.exhaust.back_pressure;
  const double half = back.tolerance.si;
  list->add({.id = "exhaust.back_pressure",
             .name = "exhaust back-pressure at full power",
             .group = "exhaust",
             .half_width = fmt::format("{:.2g} kPa", half / 1e3)},
            back.source, half, kNegligible_pa, {kGauge, kGauge_pa}, [half](Variant& v, double z) {
              double& pa = v.sheet.exhaust.back_pressure.value.above_ambient.si;
              pa = std::clamp(pa + step_of(half, z), 0.0, 200e3);
            });
}

// What measuring the sheet's parts also says about something that the sheet does not state.
Measuring measuring_of(double Unstated::*at) {
  constexpr double kClosing_deg = 1.5, kFlanks = 0.4;
  constexpr double kBenchLow = 0.05;        // flowed at the lifts in question
  constexpr double kBenchBackwards = 0.12;  // the bench has no piston in the way
  if (at == &Unstated::inlet_closing_deg) return {"degreeing the cam", kClosing_deg};
  if (at == &Unstated::lobe_shape) return {"degreeing the cam", kFlanks};
  if (at == &Unstated::low_lift_flow) return {"flowing the heads", kBenchLow};
  if (at == &Unstated::reverse_flow) return {"flowing the heads", kBenchBackwards};
  return {};
}

// "lost motion of the valve train [m]" -> name and unit apart.
std::pair<std::string, std::string> name_and_unit(std::string_view name) {
  const auto bracket = name.find(" [");
  if (bracket == std::string_view::npos) return {std::string(name), ""};
  return {std::string(name.substr(0, bracket)),
          " " + std::string(name.substr(bracket + 2, name.size() - bracket - 3))};
}

std::string slug(const std::string& name) {
  std::string out = "unstated.";
  for (const char c : name) {
    if (c == ' ') out += '_';
    if (std::isalnum(static_cast<unsigned char>(c)) != 0) out += c;
  }
  return out;
}

}  // namespace

void add_pipes(const car::Sheet& sheet, PartsList* list) {
  using I = car::Intake;
  using X = car::Exhaust;
  const X& x = sheet.exhaust;
  const Measuring wide{kHeaders, kCalliper_m};
  const auto tape = [](const char* doing, const car::Known<Length>& l) {
    return Measuring{doing, kTape * l.value.si};
  };
  const auto exhaust = [&](const char* key, const char* name, car::Known<Length> X::*at,
                           const Measuring& measuring) {
    add_pipe("exhaust", &car::Sheet::exhaust, key, name, at, measuring, sheet, list);
  };
  add_runner_length(sheet, list);
  add_pipe("intake", &car::Sheet::intake, "runner_diameter", "runner diameter", &I::runner_diameter,
           {kRunners, kCalliper_m}, sheet, list);
  add_plenum(sheet, list);
  exhaust("primary_length", "primary length", &X::primary_length, tape(kHeaders, x.primary_length));
  exhaust("primary_diameter", "primary diameter", &X::primary_diameter, wide);
  if (x.arrangement.value == car::ExhaustArrangement::four_two_one) {
    exhaust("secondary_length", "secondary length", &X::secondary_length,
            tape(kHeaders, x.secondary_length));
    exhaust("secondary_diameter", "secondary diameter", &X::secondary_diameter, wide);
  }
  exhaust("collector_length", "collector length", &X::collector_length,
          tape(kHeaders, x.collector_length));
  exhaust("collector_diameter", "collector diameter", &X::collector_diameter, wide);
  add_back_pressure(sheet, list);
}

void add_unstated(PartsList* list) {
  for (const UnstatedSpread& spread : unstated_spreads()) {
    const auto [name, unit] = name_and_unit(spread.name);
    const std::string half = spread.as_factor
                                 ? fmt::format("{:.2g} % (as a factor)", 100 * spread.half_width)
                                 : fmt::format("{:.2g}{}", spread.half_width, unit);
    list->add_unstated({.id = slug(name),
                        .name = name,
                        .group = "unstated",
                        .source = spread.source,
                        .half_width = half},
                       spread.half_width, measuring_of(spread.at), [spread](Variant& v, double z) {
                         const double step = step_of(spread.half_width, z);
                         double& value = v.unstated.*spread.at;
                         value = spread.as_factor ? value * std::exp(step) : value + step;
                       });
  }
}

void settle(Unstated* unstated) {
  constexpr double kFuller = 1.5;  // flanks beyond belong to no cam
  for (const UnstatedSpread& spread : unstated_spreads()) {
    const bool signed_one =
        spread.at == &Unstated::inlet_closing_deg || spread.at == &Unstated::lobe_shape;
    double& value = unstated->*spread.at;
    if (!signed_one) value = std::max(value, 0.0);
  }
  for (double* share : {&unstated->tail_damping, &unstated->fuel_vapour, &unstated->vapour_cooling})
    *share = std::min(*share, 1.0);
  unstated->lobe_shape = std::clamp(unstated->lobe_shape, -kFuller, kFuller);
  unstated->burn_fade = std::max(unstated->burn_fade, 0.05);  // a step would not settle
}

}  // namespace fuelwright::physics::internal
