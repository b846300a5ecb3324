// Honest files in every unit, with what the user must say where the file cannot.
#include <utility>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using Q = signals::Quantity;

constexpr double kPsi = 6894.757293168;  // exact by the inch and the pound
constexpr double kInHg = 3386.389;       // conventional, NIST SP 811
constexpr double kAmbient_pa = 101325;

// The usual drive with one column in another unit.
HonestFile in_unit(const std::string& name, Q what, const char* header, const char* unit,
                   double factor, double offset, int decimals) {
  Draft d = usual_draft();
  Column& c = column(d, what);
  c.header = header;
  c.unit = unit;
  c.factor = factor;
  c.offset = offset;
  c.decimals = decimals;
  HonestFile f = d.file(name);
  f.answers.ambient = absolute(kAmbient_pa * pascal);
  return f;
}

// The usual drive and one column more.
HonestFile with_column(const std::string& name, Column more) {
  Draft d = usual_draft();
  if (more.si.empty()) more.si = driven(more.what);
  d.columns.push_back(std::move(more));
  return d.file(name);
}

std::vector<double> trim() {
  std::vector<double> out = driven(Q::lambda);
  for (double& v : out) v = 0.3 * (v - 0.94);
  return out;
}

std::vector<double> air() {
  std::vector<double> out = driven(Q::map);
  const std::vector<double> rpm = driven(Q::rpm);
  for (std::size_t i = 0; i < out.size(); ++i)
    out[i] *= rpm[i] * 2.2e-3 * 0.8 / (120 * 287.05 * 300);
  return out;
}

HonestFile answered(HonestFile f, const char* header, Q what, const char* unit) {
  f.answers.channels[header] = {what, unit};
  return f;
}

void pressures(std::vector<HonestFile>& out) {
  out.push_back(in_unit("psi.csv", Q::map, "MAP", "psi absolute", kPsi, 0, 2));
  out.push_back(in_unit("inhg.csv", Q::map, "MAP", "inHg", kInHg, 0, 2));
  out.push_back(in_unit("bar.csv", Q::map, "MAP", "bar", 1e5, 0, 3));
  out.push_back(in_unit("hpa.csv", Q::map, "MAP", "hPa", 100, 0, 0));
  out.push_back(in_unit("kpa_unsaid.csv", Q::map, "MAP", "", 1000, 0, 1));
  out.push_back(in_unit("boost.csv", Q::map, "Boost pressure", "psi gauge", kPsi, kAmbient_pa, 2));
  out.push_back(
      in_unit("vacuum.csv", Q::map, "Manifold vacuum", "inHg vacuum", -kInHg, kAmbient_pa, 2));
  out.push_back(in_unit("vacuum_plain.csv", Q::map, "Vacuum", "inHg", -kInHg, kAmbient_pa, 2));
  out.push_back(in_unit("vacuum_below.csv", Q::map, "Vacuum", "kPa", 1000, kAmbient_pa, 1));
}

void temperatures(std::vector<HonestFile>& out) {
  out.push_back(in_unit("degf.csv", Q::coolant, "CLT", "degF", 5.0 / 9, 273.15 - 160.0 / 9, 1));
  out.push_back(in_unit("kelvin.csv", Q::coolant, "CLT", "K", 1, 0, 1));
  out.push_back(in_unit("celsius_unsaid.csv", Q::coolant, "CLT", "", 1, 273.15, 1));
}

void mixtures(std::vector<HonestFile>& out) {
  HonestFile afr = in_unit("afr.csv", Q::lambda, "AFR", "", 1 / 14.7, 0, 2);
  afr.answers.afr_constant = 14.7;
  out.push_back(std::move(afr));
  out.push_back(in_unit("afr_stated.csv", Q::lambda, "AFR", "afr 14.1", 1 / 14.1, 0, 2));
  out.push_back(in_unit("lambda_unsaid.csv", Q::lambda, "Wideband", "", 1, 0, 3));
  out.push_back(answered(in_unit("lambda_said.csv", Q::lambda, "Equivalence ratio", "", 1, 0, 3),
                         "Equivalence ratio", Q::lambda, "lambda"));
}

void shares(std::vector<HonestFile>& out) {
  out.push_back(with_column("trim_percent.csv", {Q::short_trim, "STFT", "%", 0.01, 0, 2, trim()}));
  out.push_back(with_column("trim_100.csv", {Q::short_trim, "STFT", "%", 0.01, -1, 2, trim()}));
  out.push_back(
      with_column("trim_factor.csv", {Q::short_trim, "STFT", "factor", 1, -1, 4, trim()}));
  out.push_back(
      with_column("trim_bank2.csv", {Q::long_trim, "LTFT bank 2", "%", 0.01, 0, 2, trim(), 2}));
  out.push_back(with_column("duty.csv", {Q::duty, "Injector duty", "%", 0.01, 0, 1}));
  out.push_back(with_column("injector_percent.csv", {Q::duty, "Injector", "%", 0.01, 0, 1}));
  out.push_back(in_unit("injector_ms.csv", Q::pulse_width, "Injector", "ms", 1e-3, 0, 3));
  out.push_back(in_unit("throttle_share.csv", Q::throttle, "Throttle", "fraction", 1, 0, 3));
  out.push_back(in_unit("pulse_us.csv", Q::pulse_width, "PW", "us", 1e-6, 0, 0));
}

void flows(std::vector<HonestFile>& out) {
  out.push_back(with_column("maf.csv", {Q::maf, "MAF", "g/s", 1e-3, 0, 2, air()}));
  out.push_back(with_column("maf_kgh.csv", {Q::maf, "Luftmasse", "kg/h", 1 / 3600.0, 0, 1, air()}));
  out.push_back(with_column("maf_lbmin.csv",
                            {Q::maf, "Mass air flow", "lb/min", 0.45359237 / 60, 0, 3, air()}));
  out.push_back(in_unit("mph.csv", Q::speed, "Vehicle speed", "mph", 0.44704, 0, 1));
}

}  // namespace

std::vector<HonestFile> honest_units() {
  std::vector<HonestFile> out;
  pressures(out);
  temperatures(out);
  mixtures(out);
  shares(out);
  flows(out);
  return out;
}

}  // namespace fuelwright::corpus
