// Uncertain parts of the cam. What degreeing a cam leaves is common practice, no source.
#include "physics/ensemble/internal/parts_list.h"

namespace fuelwright::physics::internal {
namespace {

constexpr const char* kDegreeing = "degreeing the cam";
constexpr double kLeft_deg = 1;            // centreline, separation: dial gauge and degree wheel
constexpr double kLeftDuration_deg = 1.5;  // at 0.050 and 0.200 in
constexpr double kLeftAdvertised_deg = 4;  // the ramp is too flat to read well
constexpr double kLeftLift_m = 0.0001;
constexpr Measuring kFeeler{"setting the lash with a feeler", 0.00003};
constexpr double kNegligible_deg = 0.25;
constexpr double kNegligible_m = 0.00001;

using Angle = car::Known<CrankAngle>;

void shift(Angle* angle, double deg) { angle->value = angle->value + crank_degrees(deg); }

std::string degrees(double deg) { return fmt::format("{:.2g} deg", deg); }

// An angle of the cam and what goes with it, when that was filled in from it.
void add_angle(const char* key, const char* name, Angle car::Cam::*at, double leaves,
               std::vector<Angle car::Cam::*> with, const car::Sheet& sheet, PartsList* list) {
  const Angle& angle = sheet.cam.*at;
  const double half = angle.tolerance.degrees();
  list->add(
      {.id = fmt::format("cam.{}", key), .name = name, .group = "cam", .half_width = degrees(half)},
      angle.source, half, kNegligible_deg, {kDegreeing, leaves},
      [half, at, with = std::move(with)](Variant& v, double z) {
        car::Cam& cam = v.sheet.cam;
        shift(&(cam.*at), step_of(half, z));
        for (const auto other : with) {
          if (follows((cam.*other).source)) shift(&(cam.*other), step_of(half, z));
        }
      });
}

void add_length(const char* key, const char* name, car::Known<Length> car::Cam::*at,
                const Measuring& measuring, const car::Sheet& sheet, PartsList* list) {
  const auto& length = sheet.cam.*at;
  const double half = length.tolerance.si;
  list->add({.id = fmt::format("cam.{}", key),
             .name = name,
             .group = "cam",
             .half_width = fmt::format("{:.2g} mm", half * 1e3)},
            length.source, half, kNegligible_m, measuring,
            [half, at](Variant& v, double z) { (v.sheet.cam.*at).value.si += step_of(half, z); });
}

// What is within stays as it is, to the last bit.
void hold(Angle* angle, double least_deg, double most_deg) {
  if (angle->value < crank_degrees(least_deg)) angle->value = crank_degrees(least_deg);
  if (angle->value > crank_degrees(most_deg)) angle->value = crank_degrees(most_deg);
}

void hold_lobe(Angle* advertised, Angle* at_050, Angle* at_200) {
  constexpr double kLeastRamp = 16,
                   kLeastFlank = 24;  // deg; no street cam is quicker (from memory)
  hold(at_050, 150, 340);
  hold(advertised, at_050->value.degrees() + kLeastRamp, 420);
  hold(at_200, 20, at_050->value.degrees() - kLeastFlank);
}

}  // namespace

void add_cam(const car::Sheet& sheet, PartsList* list) {
  using C = car::Cam;
  std::vector<Angle C::*> with_intake{&C::intake_advertised, &C::intake_duration_200};
  // Typical exhaust durations go with the intake's, and theirs with them.
  if (follows(sheet.cam.exhaust_duration_050.source)) {
    with_intake.insert(with_intake.end(), {&C::exhaust_duration_050, &C::exhaust_advertised,
                                           &C::exhaust_duration_200});
  }
  add_angle("intake_duration_050", "intake duration at 0.050 in", &C::intake_duration_050,
            kLeftDuration_deg, std::move(with_intake), sheet, list);
  add_angle("exhaust_duration_050", "exhaust duration at 0.050 in", &C::exhaust_duration_050,
            kLeftDuration_deg, {&C::exhaust_advertised, &C::exhaust_duration_200}, sheet, list);
  add_angle("intake_advertised", "advertised intake duration", &C::intake_advertised,
            kLeftAdvertised_deg, {}, sheet, list);
  add_angle("exhaust_advertised", "advertised exhaust duration", &C::exhaust_advertised,
            kLeftAdvertised_deg, {}, sheet, list);
  add_angle("intake_duration_200", "intake duration at 0.200 in", &C::intake_duration_200,
            kLeftDuration_deg, {}, sheet, list);
  add_angle("exhaust_duration_200", "exhaust duration at 0.200 in", &C::exhaust_duration_200,
            kLeftDuration_deg, {}, sheet, list);
  add_angle("lobe_separation", "lobe separation", &C::lobe_separation, kLeft_deg,
            {&C::intake_centreline}, sheet, list);
  add_angle("intake_centreline", "intake centreline", &C::intake_centreline, kLeft_deg, {}, sheet,
            list);
  add_length("intake_lift", "intake lift", &C::intake_lift, {kDegreeing, kLeftLift_m}, sheet, list);
  add_length("exhaust_lift", "exhaust lift", &C::exhaust_lift, {kDegreeing, kLeftLift_m}, sheet,
             list);
  add_length("intake_lash", "intake lash", &C::intake_lash, kFeeler, sheet, list);
  add_length("exhaust_lash", "exhaust lash", &C::exhaust_lash, kFeeler, sheet, list);
}

void settle(car::Sheet* sheet) {
  car::Cam& c = sheet->cam;
  hold_lobe(&c.intake_advertised, &c.intake_duration_050, &c.intake_duration_200);
  hold_lobe(&c.exhaust_advertised, &c.exhaust_duration_050, &c.exhaust_duration_200);
  hold(&c.lobe_separation, 90, 130);  // limits of the sheet, here and below
  hold(&c.intake_centreline, 80, 140);
  for (auto* lift : {&c.intake_lift, &c.exhaust_lift})
    lift->value.si = std::clamp(lift->value.si, 0.003, 0.025);
  for (auto* lash : {&c.intake_lash, &c.exhaust_lash})
    lash->value.si = std::clamp(lash->value.si, 0.0, 0.0015);
}

}  // namespace fuelwright::physics::internal
