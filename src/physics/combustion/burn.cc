// How long a charge takes to burn: laminar flame speed, scaling of the burn angles, dilution limit
// (docs/theory/combustion.md, section 2).
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <numbers>

#include "physics/combustion/internal/start.h"

namespace fuelwright::physics {
namespace {

constexpr double kBurnDegree = std::numbers::pi / 180;
constexpr double kAtmosphere_pa = 101325;

// Wiebe, a 5, m 2: where 10 % and 90 % are burnt: cbrt(-ln(1 - x)/5).
constexpr double kAt10 = 0.2762122, kAt50 = 0.5175497, kAt90 = 0.7722258;

// Rhodes and Keck (from memory): gasoline.
constexpr double kBest_m_s = 0.305, kFall_m_s = 0.549, kBestPhi = 1.21;
constexpr double kSlowest_m_s = 0.02;    // where the parabola would go below: smooth floor
constexpr double kDilutionKnown = 0.25;  // mole share; beyond it the law goes on exponentially

// Burn angles of a textbook engine: 1500 rpm, part load, stoichiometric (Heywood 1988, sections
// 9.2 and 9.3, from memory: 20-30 and 25-35 deg; fast-burn four-valve chambers 15-20 and 20-25).
constexpr double kDevelopment_deg[] = {25, 18};  // two_valve, pent_roof
constexpr double kRapid_deg[] = {32, 22};
// Each at a typical engine of its class; spark 30 deg before the top.
constexpr double kTextbookBore_m[] = {0.100, 0.086}, kTextbookStroke_m[] = {0.085, 0.086};
constexpr double kTextbookCompression[] = {8.5, 10};
constexpr double kTextbookRpm = 1500, kTextbookResidual = 0.12;
constexpr double kTextbookSpark_deg = 30, kTextbookPressure_pa = 55e3, kTextbookTemperature_k = 370;
constexpr double kTextbookClosing_deg = -120, kTextbookRod_m = 0.145;
constexpr double kDevelopmentStep_deg = 4, kLongestDevelopment_deg = 180;

constexpr double kPolytropic = 1.32;  // of fresh charge under compression (from memory)

// Dilution index: residual 0.52 at lambda 1, or lambda 1.6 without residual, no longer burns.
constexpr double kResidualLimit = 0.52, kLeanLimit = 0.60, kPartialIndex = 0.73, kNoneIndex = 1.19;

/// Kinematic viscosity of air-like gas [m2/s]; mu = 3.3e-7 T^0.7 (Heywood 1988, eq. 4.52, memory).
double viscosity(double t_k, double p_pa) {
  return 3.3e-7 * std::pow(t_k, 0.7) * 287.0 * t_k / p_pa;
}

/// Laminar speed as at_298 (T/298)^alpha (p/atm)^beta.                             (combustion.3)
struct LaminarLaw {
  double at_298, alpha, beta;
  double operator()(double p_pa, double t_k) const {
    return at_298 * std::pow(t_k / 298.0, alpha) * std::pow(p_pa / kAtmosphere_pa, beta);
  }
};

LaminarLaw laminar_law(double lambda, double residual) {
  const double phi = 1 / lambda;
  const double parabola = kBest_m_s - kFall_m_s * (phi - kBestPhi) * (phi - kBestPhi);
  const double half = (parabola - kSlowest_m_s) / 2;
  const double s0 = kSlowest_m_s + half + std::sqrt(half * half + 1e-4);  // smooth max
  const double bounded = std::min(phi, 1.4);  // the exponents were measured up to here
  const double alpha = 2.4 - 0.271 * std::pow(bounded, 3.51);
  const double beta = -0.357 + 0.14 * std::pow(bounded, 2.77);
  const double x = residual;  // mole share: burnt gas and charge are about equally heavy
  double dilution = 1;
  if (x > 0) {
    const double known = std::min(x, kDilutionKnown);
    dilution = 1 - 2.06 * std::pow(known, 0.77);
    if (x > known) {
      const double slope = -2.06 * 0.77 * std::pow(known, -0.23);
      dilution *= std::exp(slope / dilution * (x - known));
    }
  }
  return {s0 * dilution, alpha, beta};
}

/// The scale (Sp nu)^(1/3) (h/S_L)^(2/3) of one charge over the volume. Under polytropic
/// compression every factor is a power of the volume, and so is the whole.
class FlameScale {
 public:
  FlameScale(const LaminarLaw& laminar, double piston_speed, double piston_area, double p0,
             double t0, double v0)
      : v0_(v0) {
    constexpr double n = kPolytropic;
    const double height = v0 / piston_area;
    at_closing_ =
        std::cbrt(piston_speed * viscosity(t0, p0)) * std::pow(height / laminar(p0, t0), 2.0 / 3);
    laminar_closing_ = laminar(p0, t0);
    laminar_exponent_ = -(n - 1) * laminar.alpha - n * laminar.beta;
    const double viscosity_exponent = -(n - 1) * 1.7 + n;
    exponent_ = viscosity_exponent / 3 + 2.0 / 3 * (1 - laminar_exponent_);
  }
  double at(double volume) const { return at_closing_ * std::pow(volume / v0_, exponent_); }
  double laminar(double volume) const {
    return laminar_closing_ * std::pow(volume / v0_, laminar_exponent_);
  }
  double v0() const { return v0_; }

 private:
  double v0_, at_closing_, laminar_closing_, laminar_exponent_, exponent_;
};

/// 10 to 90 %, without its constant, in the state at TDC.                          (combustion.5)
double rapid_scale(const FlameScale& scale, const Slider& slider) {
  const double height = slider.clearance / slider.piston_area;
  return slider.bore / height * std::pow(slider.clearance / scale.v0(), 10.0 / 9) *
         scale.at(slider.clearance);
}

/// Crank angle from the spark to where the integral of dtheta / scale reaches `amount`.
///                                                                                 (combustion.4)
double development_angle(const Slider& slider, const FlameScale& scale, double spark_rad,
                         double amount) {
  const double step = kDevelopmentStep_deg * kBurnDegree;
  double theta = spark_rad, sum = 0;
  double rate = 1 / scale.at(slider.volume(theta));
  while (theta - spark_rad < kLongestDevelopment_deg * kBurnDegree) {
    const double next = 1 / scale.at(slider.volume(theta + step));
    const double part = 0.5 * step * (rate + next);
    if (sum + part >= amount) {  // the rate is linear over the step
      const double need = amount - sum, bend = (next - rate) / step;
      const double root = std::sqrt(std::max(rate * rate + 2 * bend * need, 0.0));
      return theta - spark_rad + 2 * need / (rate + root);
    }
    sum += part;
    theta += step;
    rate = next;
  }
  return kLongestDevelopment_deg * kBurnDegree;
}

struct TextbookScales {
  double development;  // integral that makes 10 % burnt
  double rapid;
};
TextbookScales textbook_scales(std::size_t chamber) {
  const CylinderShape shape{kTextbookBore_m[chamber] * metre, kTextbookStroke_m[chamber] * metre,
                            kTextbookRod_m * metre, kTextbookCompression[chamber]};
  const Slider slider(shape);
  const FlameScale scale(laminar_law(1.0, kTextbookResidual),
                         2 * kTextbookStroke_m[chamber] * kTextbookRpm / 60, slider.piston_area,
                         kTextbookPressure_pa, kTextbookTemperature_k,
                         slider.volume(kTextbookClosing_deg * kBurnDegree));
  constexpr int kParts = 100;
  const double from = -kTextbookSpark_deg * kBurnDegree;
  const double step = kDevelopment_deg[chamber] * kBurnDegree / kParts;
  double sum = 0;
  for (int i = 0; i < kParts; ++i) {
    sum += step / scale.at(slider.volume(from + (i + 0.5) * step));
  }
  return {sum, rapid_scale(scale, slider)};
}

double smoothstep(double x) {
  const double s = std::clamp(x, 0.0, 1.0);
  return s * s * (3 - 2 * s);
}

}  // namespace

double wiebe(double z) {
  return z <= 0 ? 0 : 1 - std::exp(-5 * z * z * z);  // (combustion.6)
}

Speed laminar_speed(car::Lambda lambda, double residual, AbsolutePressure p, Temperature unburnt) {
  EXPECTS(lambda.value > 0 && residual >= 0 && residual <= 1);
  EXPECTS(p.from_zero.si > 0 && unburnt.from_zero.si > 0);
  return laminar_law(lambda.value, residual)(p.from_zero.si, unburnt.from_zero.si) * m_per_s;
}

Burn burn_of(const WorkingGas& gas, const ClosedCharge& charge, const Start& start,
             double advance_rad, const CombustionUnstated& unstated) {
  static const std::array<TextbookScales, 2> kTextbook{textbook_scales(0), textbook_scales(1)};
  const FlameScale scale(laminar_law(gas.lambda.value, charge.residual), start.piston_speed,
                         start.slider.piston_area, start.p, start.t, start.v);
  const auto chamber = static_cast<std::size_t>(charge.chamber);
  Burn b;
  const double development = development_angle(start.slider, scale, -advance_rad,
                                               kTextbook[chamber].development * unstated.burn);
  const double rapid = kRapid_deg[chamber] * kBurnDegree * unstated.burn *
                       rapid_scale(scale, start.slider) / kTextbook[chamber].rapid;
  const double duration = rapid / (kAt90 - kAt10);
  const double begin = -advance_rad + std::max(0.0, development - kAt10 * duration);
  const double lean = std::max(0.0, gas.lambda.value - 1);
  const double index = charge.residual / kResidualLimit + lean / kLeanLimit;  // (combustion.7)
  b.development = {development};
  b.rapid = {rapid};
  b.start = {begin};
  b.duration = {duration};
  b.ca50 = {begin + kAt50 * duration};
  b.completeness = std::clamp(unstated.completeness, 0.0, 1.0) *
                   (1 - smoothstep((index - kPartialIndex) / (kNoneIndex - kPartialIndex)));
  b.laminar_at_spark = scale.laminar(start.slider.volume(-advance_rad)) * m_per_s;
  b.verdict = index >= 1               ? BurnVerdict::misfire
              : index >= kPartialIndex ? BurnVerdict::partial
                                       : BurnVerdict::sound;
  return b;
}

Result<Burn> burn(const WorkingGas& gas, const ClosedCharge& charge, CrankAngle advance,
                  const CombustionUnstated& unstated) {
  FW_CHECK(check_advance(advance));
  FW_TRY(const Start start, start_of(gas, charge));
  return burn_of(gas, charge, start, advance.rad, unstated);
}

}  // namespace fuelwright::physics
