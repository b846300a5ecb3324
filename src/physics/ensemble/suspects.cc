#include "physics/ensemble/suspects.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics {
namespace {

constexpr double kHeldBack = 0.20;  // of VE at the largest flow: what would be looked for at most
constexpr const char *kRunner = "intake.runner_length", *kCam = "cam.intake_centreline";
constexpr std::array kSwapped{kRunner,
                              "intake.runner_diameter",
                              "exhaust.primary_length",
                              "exhaust.primary_diameter",
                              "exhaust.back_pressure",
                              "cam.intake_duration_050",
                              "cam.exhaust_duration_050",
                              "cam.lobe_separation",
                              kCam,
                              "cam.intake_lift",
                              "heads.flow_intake",
                              "heads.flow_exhaust",
                              "engine.compression"};

struct Place {
  double rpm, pascal;
};
Place place_of(const Ensemble& e, Eigen::Index node) {
  const MapPlaces& places = e.drawn().places;
  const auto i = static_cast<std::size_t>(node), nx = places.speeds.size();
  return {places.speeds[i % nx].rpm, places.pressures[i / nx].from_zero.si};
}

// A pressure drop goes with flow squared over density. On the way in, as a share of manifold
// pressure, that is volume flow squared and the same at any load; on the way out the density is
// that of ambient pressure, and mass flow counts.
Eigen::VectorXd held_back(const Ensemble& e, bool by_mass) {
  Eigen::VectorXd out(e.nodes());
  for (Eigen::Index i = 0; i < out.size(); ++i) {
    const Place at = place_of(e, i);
    out[i] = std::pow(e.ve(i) * at.rpm * (by_mass ? at.pascal : 1), 2);
  }
  return out * (-kHeldBack / out.maxCoeff());
}

// `one` above a speed only, for three speeds well within the map.
void add_switching(const Ensemble& e, const Suspect& one, std::vector<Suspect>* out) {
  const auto& speeds = e.drawn().places.speeds;
  constexpr std::size_t kQuarters = 4;
  for (std::size_t k = 1; k < kQuarters; ++k) {
    const double from = speeds[speeds.size() * k / kQuarters].rpm;
    Suspect above{one.part, fmt::format("{} from {:.0f} rpm on", one.name, from), one.change};
    for (Eigen::Index i = 0; i < above.change.size(); ++i)
      if (place_of(e, i).rpm < from) above.change[i] = 0;
    out->push_back(std::move(above));
  }
}

std::vector<Suspect> from_steps(const Ensemble& e) {
  std::vector<Suspect> out;
  for (Eigen::Index k = 0; k < e.sensitivities().rows(); ++k) {
    const Part& part = e.drawn().parts[static_cast<std::size_t>(k)];
    out.push_back({part.id, part.name, kMostSteps * e.sensitivities().row(k).transpose()});
  }
  return out;
}

// ln VE of `engine` over that of the centre; 0 where either misfires.
Eigen::VectorXd change_of(const AirMap& engine, const AirMap& centre) {
  Eigen::VectorXd out(static_cast<Eigen::Index>(centre.nodes.size()));
  for (Eigen::Index i = 0; i < out.size(); ++i) {
    const AirNode &a = engine.nodes[static_cast<std::size_t>(i)],
                  &b = centre.nodes[static_cast<std::size_t>(i)];
    out[i] = a.reachable && b.reachable && a.ve > 0 && b.ve > 0 ? std::log(a.ve / b.ve) : 0.0;
  }
  return out;
}

}  // namespace

Result<std::vector<Suspect>> draw_suspects(const car::Sheet& sheet, const MapPlaces& places,
                                           const MapSettings& settings) {
  FW_TRY(const EngineModel centre, engine_model(sheet, Unstated{}));
  std::vector<EngineModel> models{centre};
  std::vector<Suspect> out;
  for (const UncertainPart& part : uncertain_parts(sheet)) {
    if (std::find(kSwapped.begin(), kSwapped.end(), part.id) == kSwapped.end()) continue;
    for (const double sign : {1.0, -1.0}) {
      // A part takes steps up to kMost_z, so two of them make three tolerances.
      const std::array twice{part, part};
      const std::array z{sign * kMostSteps / 2, sign * kMostSteps / 2};
      const Variant variant = variant_of(sheet, twice, z);
      const auto model = engine_model(variant.sheet, variant.unstated);
      if (!model) continue;  // parts that do not go together are no engine to look for
      models.push_back(*model);
      out.push_back({part.id, part.name + (sign > 0 ? " (more)" : " (less)"), {}});
    }
  }
  const std::vector<AirMap> maps = air_maps(models, places, settings);
  if (settings.stop.stop_requested())
    return Error{ErrorCode::conflict, "the suspects", "were stopped before they were finished"};
  for (std::size_t k = 0; k < out.size(); ++k) out[k].change = change_of(maps[k + 1], maps[0]);
  return out;
}

std::vector<Suspect> suspects_of(const Ensemble& e) {
  std::vector<Suspect> out = e.settings().suspects;
  if (out.empty()) out = from_steps(e);
  const std::size_t swapped = out.size();
  for (std::size_t k = 0; k < swapped; ++k) {
    const Suspect one = out[k];
    if (one.part == kRunner || one.part == kCam) add_switching(e, one, &out);
  }
  out.push_back({"", "air held back before the valves", held_back(e, false)});
  out.push_back({"", "exhaust held back", held_back(e, true)});
  const double one_cylinder = std::log(7.0 / 8.0);  // of eight; a level of another size looks alike
  out.push_back({"", "another displacement, or a cylinder that takes no air",
                 Eigen::VectorXd::Constant(e.nodes(), one_cylinder)});
  return out;
}

}  // namespace fuelwright::physics
