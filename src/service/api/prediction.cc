// A prediction as JSON.
#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/api/pieces.h"
#include "service/job/calibration_json.h"

namespace fuelwright::service {
namespace {

using pieces::interval;
using pieces::Json;

Json intervals(const std::vector<physics::Interval>& values) {
  Json out = Json::array();
  for (const auto& v : values) out.push_back(interval(v));
  return out;
}

Json full_throttle(const advice::FullThrottle& f) {
  Json speeds = Json::array(), pressures = Json::array();
  for (const EngineSpeed s : f.speeds) speeds.push_back(s.rpm);
  for (const AbsolutePressure p : f.pressures) pressures.push_back(p.from_zero.si);
  return {{"speed_rpm", speeds},
          {"map_pa", pressures},
          {"ve", intervals(f.ve)},
          {"torque_nm", intervals(f.torque_nm)},
          {"power_w", intervals(f.power_w)},
          {"fuel_kg_s", intervals(f.fuel_kg_s)},
          {"bsfc_kg_j", intervals(f.bsfc_kg_j)},
          {"spark_deg", intervals(f.spark_deg)},
          {"exhaust_k", intervals(f.exhaust_k)},
          {"knock_limited_share", f.knock_limited},
          {"peak_torque_nm", interval(f.peak_torque_nm)},
          {"peak_torque_rpm", interval(f.peak_torque_rpm)},
          {"peak_power_w", interval(f.peak_power_w)},
          {"peak_power_rpm", interval(f.peak_power_rpm)},
          {"fuel_half_width_95", f.air_half_width}};
}

Json idle(const advice::Idle& i) {
  return {{"speed_rpm", i.speed.rpm},
          {"runs_share", i.runs},
          {"known", i.known()},
          {"map_pa", i.map_pa ? interval(*i.map_pa) : Json(nullptr)},
          {"air_kg_s", i.map_pa ? interval(i.air_kg_s) : Json(nullptr)},
          {"residual", i.residual},
          {"spark_deg", i.spark_deg}};
}

Json mixtures(const std::vector<advice::MixtureChoice>& choices) {
  Json out = Json::array();
  for (const advice::MixtureChoice& m : choices) {
    out.push_back({{"where", m.where},
                   {"from_lambda", m.from.value},
                   {"to_lambda", m.to.value},
                   {"torque", m.torque},
                   {"fuel", m.fuel},
                   {"fuel_per_work", m.bsfc},
                   {"torque_half_width_95", m.torque_half_width}});
  }
  return out;
}

Json axes(const advice::ProposedAxes& a) {
  const auto points = [](const car::Axis& x) {
    return std::vector<double>(x.points().begin(), x.points().end());
  };
  return {{"x_si", points(a.grid.x)},
          {"y_si", points(a.grid.y)},
          {"loss", a.loss},
          {"present_loss", a.present_loss}};
}

}  // namespace

Json pieces::measurements(const std::vector<physics::Worth>& worth) {
  Json out = Json::array();
  for (const physics::Worth& w : worth) {
    out.push_back({{"driving", w.driving},
                   {"measuring", w.measuring},
                   {"parts", w.parts},
                   {"half_width_95_before", w.before},
                   {"half_width_95_after", w.after},
                   {"predicted", w.predicted},
                   {"says", w.says()}});
  }
  return out;
}

std::string json(const PredictReply& r) {
  Json out = {{"sentence", r.sentence},
              {"not_known", r.not_known},
              {"members", r.members},
              {"drawn_now", r.drawn_now},
              {"full_throttle", full_throttle(r.full)},
              {"idle", idle(r.idle)},
              {"mixtures", mixtures(r.mixtures)},
              {"evidence", Json(json_of(*r.evidence))},
              {"measure_next", pieces::measurements(r.measure_next)},
              {"calibration", Json(json_of(r.first.calibration))},
              {"how", r.first.lines},
              {"cautions", r.first.cautions},
              {"axes", r.first.axes ? axes(*r.first.axes) : Json(nullptr)},
              {"revision", r.revision ? Json(*r.revision) : Json(nullptr)},
              {"not_kept", r.not_kept}};
  return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace fuelwright::service
