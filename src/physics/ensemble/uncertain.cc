// Engine and heads; the cam, the pipes and what is unstated stand in their own files. What a
// measurement leaves is common practice, no source.
#include "physics/ensemble/uncertain.h"

#include "base/contract.h"
#include "car/build/derived.h"
#include "physics/ensemble/internal/parts_list.h"

namespace fuelwright::physics {

using namespace internal;  // this module's own

namespace {

constexpr double kNegligible = 0.0015;  // of a dimension: far below what moves VE by 0.1 %
constexpr Measuring kBoreAndStroke{"measuring bore and stroke", 0.0005};
constexpr Measuring kBurette{"measuring the compression with a burette", 0.1};
constexpr Measuring kFlowBench{"flowing the heads", 0.03};
constexpr Measuring kFlowTilt{"flowing the heads", 0.015};

std::string percent(double share) { return fmt::format("{:.2g} %", share * 100); }

void scale(Length* length, double factor) { length->si *= factor; }

bool given(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

// The rod's typical value is a share of the stroke.
void scale_stroke(car::Sheet* s, double factor) {
  scale(&s->engine.stroke.value, factor);
  if (follows(s->engine.rod_length.source)) scale(&s->engine.rod_length.value, factor);
}

// Bore and stroke given: the displacement follows. Otherwise the displacement is what is known, and
// bore and stroke move at constant displacement.
void add_cylinder(const car::Sheet& sheet, PartsList* list) {
  const car::Engine& e = sheet.engine;
  const double bore = e.bore.tolerance / e.bore.value;
  const double stroke = e.stroke.tolerance / e.stroke.value;
  if (given(e.bore.source) && given(e.stroke.source)) {
    list->add({.id = "engine.bore", .name = "bore", .group = "engine", .half_width = percent(bore)},
              e.bore.source, bore, kNegligible, kBoreAndStroke, [bore](Variant& v, double z) {
                const double f = std::exp(step_of(bore, z));
                scale(&v.sheet.engine.bore.value, f);
                v.sheet.engine.displacement.value.si *= f * f;
              });
    list->add(
        {.id = "engine.stroke", .name = "stroke", .group = "engine", .half_width = percent(stroke)},
        e.stroke.source, stroke, kNegligible, kBoreAndStroke, [stroke](Variant& v, double z) {
          const double f = std::exp(step_of(stroke, z));
          scale_stroke(&v.sheet, f);
          v.sheet.engine.displacement.value.si *= f;
        });
    return;
  }
  const double share = e.displacement.tolerance / e.displacement.value;
  list->add({.id = "engine.displacement",
             .name = "displacement",
             .group = "engine",
             .half_width = percent(share)},
            e.displacement.source, share, kNegligible, kBoreAndStroke,
            [share](Variant& v, double z) {
              const double f = std::exp(step_of(share, z));
              v.sheet.engine.displacement.value.si *= f;
              scale(&v.sheet.engine.bore.value, std::cbrt(f));
              scale_stroke(&v.sheet, std::cbrt(f));
            });
  const double shape = std::min(bore, stroke / 2);
  const car::Source source = given(e.bore.source) ? e.bore.source : e.stroke.source;
  list->add({.id = "engine.bore_to_stroke",
             .name = "bore against stroke at this displacement",
             .group = "engine",
             .half_width = percent(3 * shape)},
            source, shape, kNegligible, kBoreAndStroke, [shape](Variant& v, double z) {
              const double f = std::exp(step_of(shape, z));
              scale(&v.sheet.engine.bore.value, f);
              scale_stroke(&v.sheet, 1 / (f * f));
            });
}

void add_compression(const car::Sheet& sheet, PartsList* list) {
  const auto& c = sheet.engine.compression;
  const double half = c.tolerance;
  constexpr double kNegligibleRatio = 0.02;
  list->add({.id = "engine.compression",
             .name = "compression ratio",
             .group = "engine",
             .half_width = fmt::format("{:.2g}", half)},
            c.source, half, kNegligibleRatio, kBurette, [half](Variant& v, double z) {
              double& r = v.sheet.engine.compression.value;
              constexpr double kLeast = 5, kMost = 20;  // limits of the sheet
              r = std::clamp(r + step_of(half, z), kLeast, kMost);
            });
}

// Typical lifts and flows were derived from the valve's diameter, and so were the typical pipes.
void scale_intake_valve(car::Sheet* s, double f) {
  scale(&s->heads.intake_valve.value, f);
  if (follows(s->heads.flow_intake.source)) {
    for (VolumeFlow& q : s->heads.flow_intake.values) q.si *= f * f;
  }
  if (follows(s->intake.runner_diameter.source)) scale(&s->intake.runner_diameter.value, f);
}

void scale_exhaust_valve(car::Sheet* s, double f) {
  scale(&s->heads.exhaust_valve.value, f);
  if (follows(s->heads.flow_exhaust.source)) {
    for (VolumeFlow& q : s->heads.flow_exhaust.values) q.si *= f * f;
  }
  car::Exhaust& out = s->exhaust;
  if (!follows(out.primary_diameter.source)) return;
  scale(&out.primary_diameter.value, f);
  if (follows(out.secondary_diameter.source)) scale(&out.secondary_diameter.value, f);
  if (follows(out.collector_diameter.source)) scale(&out.collector_diameter.value, f);
}

void add_valve(const char* id, const char* name, const car::Known<Length>& valve,
               void (*scale_valve)(car::Sheet*, double), PartsList* list) {
  const double share = valve.tolerance / valve.value;
  constexpr double kCalliper_m = 0.0001;
  list->add({.id = id, .name = name, .group = "heads", .half_width = percent(share)}, valve.source,
            share, kNegligible, {"measuring the valves", kCalliper_m / valve.value.si},
            [share, scale_valve](Variant& v, double z) {
              scale_valve(&v.sheet, std::exp(step_of(share, z)));
            });
}

// The whole curve by a factor, and its ends against each other by half of that.
void add_flow(const std::string& id, const std::string& name,
              car::Listed<VolumeFlow> car::Heads::*at, const car::Sheet& sheet, PartsList* list) {
  const auto& flow = sheet.heads.*at;
  const double share = flow.tolerance;
  list->add({.id = id, .name = name, .group = "heads", .half_width = percent(share)}, flow.source,
            share, kNegligible, kFlowBench, [share, at](Variant& v, double z) {
              const double f = std::exp(step_of(share, z));
              for (VolumeFlow& q : (v.sheet.heads.*at).values) q.si *= f;
            });
  list->add({.id = id + "_tilt",
             .name = name + ", low lift against high",
             .group = "heads",
             .half_width = percent(share / 2)},
            flow.source, share / 2, kNegligible, kFlowTilt, [share, at](Variant& v, double z) {
              auto& values = (v.sheet.heads.*at).values;
              const auto last = std::max<double>(1, static_cast<double>(values.size()) - 1);
              for (std::size_t i = 0; i < values.size(); ++i) {
                const double place = 2 * static_cast<double>(i) / last - 1;  // -1 low, +1 high lift
                values[i].si *= std::exp(place * step_of(share / 2, z));
              }
            });
}

}  // namespace

std::vector<UncertainPart> uncertain_parts(const car::Sheet& sheet) {
  PartsList list;
  add_cylinder(sheet, &list);
  add_compression(sheet, &list);
  add_cam(sheet, &list);
  add_valve("heads.intake_valve", "intake valve", sheet.heads.intake_valve, scale_intake_valve,
            &list);
  add_valve("heads.exhaust_valve", "exhaust valve", sheet.heads.exhaust_valve, scale_exhaust_valve,
            &list);
  add_flow("heads.flow_intake", "intake flow", &car::Heads::flow_intake, sheet, &list);
  add_flow("heads.flow_exhaust", "exhaust flow", &car::Heads::flow_exhaust, sheet, &list);
  add_pipes(sheet, &list);
  add_unstated(&list);
  return list.take();
}

Variant variant_of(const car::Sheet& sheet, std::span<const UncertainPart> parts,
                   std::span<const double> z) {
  EXPECTS(parts.size() == z.size());
  Variant out{sheet, {}};
  for (std::size_t k = 0; k < parts.size(); ++k) {
    if (z[k] != 0) parts[k].apply(out, z[k]);
  }
  settle(&out.sheet);
  settle(&out.unstated);
  return out;
}

}  // namespace fuelwright::physics
