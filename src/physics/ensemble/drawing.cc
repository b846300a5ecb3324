#include "physics/ensemble/drawing.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/numerics/interpolate.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::physics {
namespace {

constexpr int kLeastMembers = 8, kMostMembers = 4096;

Status check_axis(const char* what, const char* unit, std::vector<double> values, double least,
                  double most) {
  if (values.empty() || !strictly_increasing(values) || values.front() < least ||
      values.back() > most) {
    return Error{ErrorCode::out_of_range, what,
                 fmt::format("expected one or more increasing points within {} to {} {}", least,
                             most, unit)};
  }
  return Done{};
}

Status check(const MapPlaces& places, const DrawSettings& settings) {
  if (settings.members < kLeastMembers || settings.members > kMostMembers) {
    return Error{
        ErrorCode::out_of_range, "members",
        fmt::format("came {}, expected {} to {}", settings.members, kLeastMembers, kMostMembers)};
  }
  std::vector<double> speeds, pressures;
  for (const EngineSpeed n : places.speeds) speeds.push_back(n.rpm);
  for (const AbsolutePressure p : places.pressures) pressures.push_back(p.from_zero.in(kPa));
  FW_CHECK(check_axis("the map's speeds", "rpm", std::move(speeds), 200, 12'000));
  return check_axis("the map's pressures", "kPa", std::move(pressures), 10, 400);
}

class Engines {
 public:
  Engines(const car::Sheet& sheet, std::span<const UncertainPart> parts)
      : sheet_(sheet), parts_(parts) {}

  Result<EngineModel> at(std::span<const double> z) const {
    const Variant variant = variant_of(sheet_, parts_, z);
    return engine_model(variant.sheet, variant.unstated);
  }

  // An engine whose parts do not go together is drawn back towards the centre, which does.
  bool add(std::vector<double>* z, std::vector<EngineModel>* models) const {
    constexpr int kTries = 4;
    for (int i = 0; i < kTries; ++i) {
      if (const auto model = at(*z)) {
        models->push_back(*model);
        return i == 0;
      }
      for (double& one : *z) one /= 2;
    }
    z->assign(z->size(), 0.0);
    models->push_back(*at(*z));
    return false;
  }

 private:
  const car::Sheet& sheet_;
  std::span<const UncertainPart> parts_;
};

}  // namespace

Result<Drawn> draw_engines(const car::Sheet& sheet, const MapPlaces& places,
                           const DrawSettings& settings) {
  FW_CHECK(check(places, settings));
  const std::vector<UncertainPart> parts = uncertain_parts(sheet);
  const Engines engines(sheet, parts);
  const auto count = static_cast<Eigen::Index>(parts.size());
  Drawn out;
  out.seed = settings.seed;
  out.places = places;
  out.parts.assign(parts.begin(), parts.end());
  out.z = normal_sample(settings.members, static_cast<int>(count), settings.seed);

  std::vector<double> z(parts.size(), 0.0);
  FW_TRY(const EngineModel centre, engines.at(z));
  std::vector<EngineModel> models{centre};
  for (Eigen::Index m = 0; m < out.z.rows(); ++m) {
    for (Eigen::Index k = 0; k < count; ++k)
      z[static_cast<std::size_t>(k)] = std::clamp(out.z(m, k), -kMost_z, kMost_z);
    out.drawn_back += engines.add(&z, &models) ? 0 : 1;
    for (Eigen::Index k = 0; k < count; ++k) out.z(m, k) = z[static_cast<std::size_t>(k)];
  }
  for (std::size_t k = 0; settings.steps && k < parts.size(); ++k) {
    z.assign(parts.size(), 0.0);
    z[k] = 1;
    engines.add(&z, &models);  // a step that cannot be is shorter: it then counts for less
  }

  const double share_of_members = settings.whole ? 0.75 : 1;  // of the time, for the progress shown
  MapSettings members = settings.maps, whole = settings.maps;
  if (settings.maps.progress) {
    members.progress = [&](double share) { settings.maps.progress(share_of_members * share); };
    whole.progress = [&](double share) {
      settings.maps.progress(share_of_members + (1 - share_of_members) * share);
    };
  }
  std::vector<AirMap> maps = air_maps(models, places, members);
  if (settings.whole) out.whole = whole_engine_map(centre, places, whole);
  if (settings.maps.stop.stop_requested())
    return Error{ErrorCode::conflict, "the ensemble", "was stopped before it was finished"};
  EXPECTS(maps.size() == models.size());
  const auto first_step = maps.begin() + 1 + settings.members;
  out.centre = std::move(maps.front());
  out.members.assign(std::make_move_iterator(maps.begin() + 1),
                     std::make_move_iterator(first_step));
  out.steps.assign(std::make_move_iterator(first_step), std::make_move_iterator(maps.end()));
  return out;
}

}  // namespace fuelwright::physics
