// Friction by parts (docs/theory/combustion.md, section 5).
#include <fmt/format.h>

#include <cmath>

#include "physics/combustion/combustion.h"

namespace fuelwright::physics {
namespace {

// Bearing sizes over the bore, typical of car engines (common practice, no source).
constexpr double kMainDiameter = 0.65, kMainLength = 0.25, kRodDiameter = 0.55, kRodLength = 0.22;

struct TrainFriction {
  double flat, rolling, oil, motion;
};
// Direct, finger, overhead rocker, pushrod: the published table (from memory).
constexpr TrainFriction kTrains[] = {{200, 0.0076, 0.5, 10.7},
                                     {600, 0.0227, 0.2, 42.8},
                                     {400, 0.0151, 0.5, 21.4},
                                     {400, 0.0151, 0.5, 32.1}};

Error wrong_friction(const char* what, double came, const char* expected) {
  return Error{ErrorCode::out_of_range, what,
               fmt::format("came {:.6g}, expected {}", came, expected)};
}

}  // namespace

Result<Friction> friction(const EngineBuild& engine, EngineSpeed speed, AbsolutePressure intake) {
  const CylinderShape& shape = engine.shape;
  if (!(shape.bore.si >= 0.03 && shape.bore.si <= 0.25)) {
    return wrong_friction("shape.bore", shape.bore.in(mm), "30 to 250 mm");
  }
  if (!(shape.stroke.si >= 0.03 && shape.stroke.si <= 0.30)) {
    return wrong_friction("shape.stroke", shape.stroke.in(mm), "30 to 300 mm");
  }
  if (!(shape.compression >= 4 && shape.compression <= 20)) {
    return wrong_friction("shape.compression", shape.compression, "4 to 20");
  }
  if (engine.cylinders < 1 || engine.cylinders > 16) {
    return wrong_friction("cylinders", engine.cylinders, "1 to 16");
  }
  if (engine.valves < 2 || engine.valves > 5)
    return wrong_friction("valves", engine.valves, "2 to 5");
  if (engine.main_bearings < 0 || engine.main_bearings > 17) {
    return wrong_friction("main_bearings", engine.main_bearings, "0 (typical) to 17");
  }
  if (!(engine.valve_lift.si >= 0.002 && engine.valve_lift.si <= 0.025)) {
    return wrong_friction("valve_lift", engine.valve_lift.in(mm), "2 to 25 mm");
  }
  if (!(speed.rpm >= 200 && speed.rpm <= 14000)) {
    return wrong_friction("speed", speed.rpm, "200 to 14,000 rpm");
  }
  const double load = intake.from_zero.si / 101325;
  if (!(load >= 0 && load <= 6))
    return wrong_friction("intake", intake.from_zero.in(kPa), "0 to 600 kPa");

  // Letters of the paper: mm, rpm, kPa.
  const double B = shape.bore.in(mm), S = shape.stroke.in(mm), N = speed.rpm;
  const double nc = engine.cylinders, nv = engine.valves * nc;
  const double nb = engine.main_bearings > 0 ? engine.main_bearings
                    : engine.vee             ? engine.cylinders / 2 + 1
                                             : engine.cylinders + 1;
  const double Db = kMainDiameter * B, Lb = kMainLength * B, Dr = kRodDiameter * B,
               Lr = kRodLength * B, Lv = engine.valve_lift.in(mm);
  const double Sp = 2 * shape.stroke.si * N / 60, per = 1 / (B * B * S * nc);
  const TrainFriction& c = kTrains[static_cast<int>(engine.train)];

  Friction f;  // (combustion.14), term by term
  f.crankshaft = (1.22e5 * Db * per + 3.03e-4 * N * Db * Db * Db * Lb * nb * per +
                  1.35e-10 * Db * Db * N * N * nb / nc) *
                 kPa;
  f.reciprocating = (294 * Sp / B + 4.06e4 * (1 + 1000 / N) / (B * B) +
                     3.03e-4 * N * Dr * Dr * Dr * Lr * nc * per) *
                    kPa;
  f.gas_load =
      6.89 * load *
      (0.088 * shape.compression + 0.182 * std::pow(shape.compression, 1.33 - 2.38e-2 * Sp)) * kPa;
  f.valve_train = (244 * N * nb * per + c.flat * (1 + 1000 / N) * nv / (S * nc) +
                   c.rolling * N * nv / (S * nc) +
                   c.oil * std::pow(Lv, 1.5) * std::sqrt(N) * nv / (B * S * nc) +
                   c.motion * (1 + 1000 / N) * Lv * nv / (S * nc)) *
                  kPa;
  f.accessories = (6.23 + 5.22e-3 * N - 1.79e-7 * N * N) * kPa;
  return f;
}

}  // namespace fuelwright::physics
