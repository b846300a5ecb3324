#include "bench/outside_engines/outside_engines.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>

#include "advice/prediction/charge.h"
#include "advice/prediction/prediction.h"
#include "car/build/sheet_file.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::bench {

namespace {

using namespace physics;

// Numbers without a unit, by column name; quotes are dropped (no field of these files holds a
// comma).
struct Csv {
  std::map<std::string, std::size_t> column;
  std::vector<std::vector<std::string>> rows;
  double number(std::size_t row, const char* name) const {
    return std::atof(rows[row][column.at(name)].c_str());
  }
};

std::vector<std::string> fields(const std::string& line) {
  std::vector<std::string> out(1);
  for (const char c : line) {
    if (c == ',') out.emplace_back();
    if (c != ',' && c != '"' && c != '\r') out.back() += c;
  }
  return out;
}

Result<Csv> read_csv(const std::string& path, std::initializer_list<const char*> needed) {
  std::ifstream in(path);
  std::string line;
  if (!in || !std::getline(in, line)) return Error{ErrorCode::io, path, "cannot be read"};
  Csv csv;
  const auto names = fields(line);
  for (std::size_t i = 0; i < names.size(); ++i) csv.column[names[i]] = i;
  for (const char* name : needed) {
    if (!csv.column.contains(name))
      return Error{ErrorCode::bad_input, path, fmt::format("no column '{}'", name)};
  }
  while (std::getline(in, line)) {
    if (line.empty()) continue;
    csv.rows.push_back(fields(line));
    if (csv.rows.back().size() < names.size())
      return Error{ErrorCode::bad_input, path, "a row is shorter than the header"};
  }
  return csv;
}

// Behind the open throttle: 2 % of ambient lost at the rev limit, growing with the square of the
// speed (common practice, no source).
AbsolutePressure open_throttle(const car::Sheet& sheet, double n) {
  const double share = n / sheet.wishes.rev_limit.value.rpm;
  return absolute((1 - 0.02 * std::min(1.5, share * share)) * sheet.place.pressure.value.from_zero);
}

struct Burning {
  advice::Burner burner;
  WorkingGas gas;
};
Result<Burning> burning_of(const car::Sheet& sheet) {
  FW_TRY(advice::Burner burner, advice::burner_of(sheet));
  FW_TRY(WorkingGas gas, working_gas(burner.fuel, sheet.wishes.full_throttle_mixture.value));
  burner.spark.intervals = false;
  return Burning{std::move(burner), std::move(gas)};
}

Result<double> torque_nm(const Burning& b, const AirNode& node, const CombustionUnstated& u) {
  FW_TRY(const BrakePoint p, brake(b.gas, advice::charge_at(b.burner, node), b.burner.engine,
                                   node.pumping, b.burner.spark, u));
  return p.torque.value.si;
}

MapPlaces places_at(const car::Sheet& sheet, const std::vector<EngineSpeed>& speeds) {
  // From the lowest to the highest pressure behind the open throttle.
  MapPlaces places{speeds,
                   {open_throttle(sheet, speeds.back().rpm), open_throttle(sheet, speeds[0].rpm)},
                   surroundings_of(sheet)};
  if (places.pressures[1].from_zero.si - places.pressures[0].from_zero.si < 1)
    places.pressures.resize(1);
  return places;
}

std::vector<double> structure_of(const AirMap& whole, const AirMap& one) {
  std::vector<double> out;
  for (std::size_t i = 0; i < whole.nodes.size(); ++i) {
    const bool both = whole.nodes[i].ve > 0.05 && one.nodes[i].ve > 0.05;
    out.push_back(both ? std::log(whole.nodes[i].ve / one.nodes[i].ve) : 0);
  }
  return out;
}

}  // namespace

Errors errors_of(const std::vector<double>& predicted, const std::vector<double>& measured) {
  Errors e;
  const double n = static_cast<double>(predicted.size());
  double squares = 0;
  for (std::size_t i = 0; i < predicted.size(); ++i) {
    const double x = predicted[i] / measured[i] - 1;
    e.mean += x / n;
    squares += x * x;
  }
  e.rms = std::sqrt(squares / n);
  e.sd = std::sqrt(std::max(0.0, squares - n * e.mean * e.mean) / (n - 1));
  return e;
}

Result<std::vector<LoadPoint>> full_load(const std::string& folder, const std::string& text,
                                         const FullLoadSettings& settings) {
  FW_TRY(const Csv csv,
         read_csv(folder + "/tables/engine_1900_dohc_full_load.csv", {"rpm", "max_torque_Nm"}));
  FW_TRY(const car::Sheet sheet, car::read_sheet(text, "engine_1900_dohc.toml"));
  FW_TRY(const EngineModel model, engine_model(sheet));
  FW_TRY(const Burning burning, burning_of(sheet));
  std::vector<LoadPoint> out;
  std::vector<EngineSpeed> speeds;
  for (std::size_t i = 0; i < csv.rows.size(); ++i) {
    LoadPoint p;
    p.rpm = csv.number(i, "rpm");
    p.measured_nm = csv.number(i, "max_torque_Nm");
    out.push_back(p);
    speeds.push_back(rpm(p.rpm));
  }
  const MapPlaces places = places_at(sheet, speeds);
  FW_TRY(Drawn drawn,
         draw_engines(sheet, places,
                      {.members = settings.members, .seed = settings.seed, .steps = false}));
  const AirMap one = drawn.centre, whole = whole_engine_map(model, places);
  EnsembleSettings how;
  how.structure = structure_of(whole, one);
  const Ensemble ensemble(std::move(drawn), how);
  const auto members = ensemble.honest_members(settings.seed + 1);
  const auto unstated = advice::drawn_combustion(settings.members, settings.seed + 2);
  for (LoadPoint& p : out) {
    const AbsolutePressure at = open_throttle(sheet, p.rpm);
    FW_TRY(p.one_cylinder_nm, torque_nm(burning, advice::node_between(one, rpm(p.rpm), at), {}));
    FW_TRY(p.whole_engine_nm, torque_nm(burning, advice::node_between(whole, rpm(p.rpm), at), {}));
    std::vector<double> all;
    for (std::size_t m = 0; m < members.size(); ++m) {
      FW_TRY(const double t,
             torque_nm(burning, advice::node_between(members[m], rpm(p.rpm), at), unstated[m]));
      all.push_back(t);
    }
    const Interval in = interval_of(all);
    p.low_nm = in.low;
    p.middle_nm = in.middle;
    p.high_nm = in.high;
  }
  return out;
}

namespace {

Result<double> rated_bar(const car::Sheet& sheet, const Burning& burning, const AirMap& map,
                         double n) {
  const AirNode node = advice::node_between(map, rpm(n), open_throttle(sheet, n));
  FW_TRY(const double nm, torque_nm(burning, node, {}));
  return nm * 4 * 3.14159265358979 / sheet.engine.displacement.value.si / 1e5;
}

Status predict(const SheetFromRating& rule, RatedCar* car) {
  FW_TRY(const car::Sheet sheet, rule(car->cylinders, car->litres * litre, rpm(car->rpm)));
  FW_TRY(const EngineModel model, engine_model(sheet));
  FW_TRY(const Burning burning, burning_of(sheet));
  const MapPlaces places = places_at(sheet, {rpm(car->rpm)});
  FW_TRY(car->one_cylinder_bar, rated_bar(sheet, burning, air_map(model, places), car->rpm));
  FW_TRY(car->whole_engine_bar,
         rated_bar(sheet, burning, whole_engine_map(model, places), car->rpm));
  return Done{};
}

// Least squares on a constant, cylinders, displacement and rated speed.
void fit_baselines(std::vector<RatedCar>* cars) {
  const auto n = static_cast<Eigen::Index>(cars->size());
  Eigen::MatrixXd x(n, 4);
  Eigen::VectorXd y(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const RatedCar& c = (*cars)[static_cast<std::size_t>(i)];
    x.row(i) << 1, c.cylinders, c.litres, c.rpm / 1000;
    y(i) = c.measured_bar;
  }
  const Eigen::VectorXd fitted = x * x.colPivHouseholderQr().solve(y);
  for (Eigen::Index i = 0; i < n; ++i) {
    (*cars)[static_cast<std::size_t>(i)].constant_bar = y.mean();
    (*cars)[static_cast<std::size_t>(i)].regression_bar = fitted(i);
  }
}

}  // namespace

Result<std::vector<RatedCar>> rated_cars(const std::string& folder, const SheetFromRating& rule) {
  FW_TRY(const Csv csv,
         read_csv(folder + "/tables/Cars93.csv", {"Cylinders", "EngineSize", "Horsepower", "RPM"}));
  constexpr double kBoosted_bar = 13;  // no road engine of the time reaches it without a charger
  std::vector<RatedCar> cars;
  for (std::size_t i = 0; i < csv.rows.size(); ++i) {
    RatedCar c;
    c.cylinders = static_cast<int>(csv.number(i, "Cylinders"));
    if (c.cylinders < 1) continue;  // "rotary"
    c.litres = csv.number(i, "EngineSize");
    c.rpm = csv.number(i, "RPM");
    c.measured_bar =
        (csv.number(i, "Horsepower") * horsepower).si * 120 / (c.litres * 1e-3 * c.rpm) / 1e5;
    if (c.measured_bar > kBoosted_bar) continue;
    FW_CHECK(predict(rule, &c));
    cars.push_back(c);
  }
  fit_baselines(&cars);
  return cars;
}

}  // namespace fuelwright::bench
