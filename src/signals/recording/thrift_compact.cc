#include "signals/recording/internal/thrift_compact.h"

#include <utility>

#include "base/contract.h"

namespace fuelwright::signals {
namespace {

constexpr std::uint8_t kTrue = 1, kFalse = 2, kI16 = 4, kI64 = 6, kList = 9;
constexpr std::size_t kShortList = 15;  // sizes below it share a byte with the type
constexpr int kShortStep = 15;          // steps of field numbers up to it share a byte too

}  // namespace

void ThriftWriter::varint(std::uint64_t value) {
  while (value >= 0x80) {
    out_ += static_cast<char>((value & 0x7F) | 0x80);
    value >>= 7;
  }
  out_ += static_cast<char>(value);
}

void ThriftWriter::zigzag(std::int64_t value) {
  varint((static_cast<std::uint64_t>(value) << 1) ^ static_cast<std::uint64_t>(value >> 63));
}

void ThriftWriter::header(int field, std::uint8_t type) {
  const int step = field - last_.back();
  EXPECTS(step > 0 && step <= kShortStep);
  out_ += static_cast<char>(step << 4 | type);
  last_.back() = field;
}

void ThriftWriter::boolean(int field, bool value) { header(field, value ? kTrue : kFalse); }

void ThriftWriter::i16(int field, std::int16_t value) {
  header(field, kI16);
  zigzag(value);
}

void ThriftWriter::i32(int field, std::int32_t value) {
  header(field, kI32);
  zigzag(value);
}

void ThriftWriter::i64(int field, std::int64_t value) {
  header(field, kI64);
  zigzag(value);
}

void ThriftWriter::text(int field, std::string_view bytes) {
  header(field, kBinary);
  element_text(bytes);
}

void ThriftWriter::begin_struct(int field) {
  header(field, kStruct);
  begin_struct();
}

void ThriftWriter::begin_struct() { last_.push_back(0); }

void ThriftWriter::end_struct() {
  EXPECTS(last_.size() > 1);
  out_ += '\0';
  last_.pop_back();
}

void ThriftWriter::begin_list(int field, std::size_t size, std::uint8_t type) {
  header(field, kList);
  if (size < kShortList) {
    out_ += static_cast<char>(size << 4 | type);
  } else {
    out_ += static_cast<char>(0xF0 | type);
    varint(size);
  }
}

void ThriftWriter::element(std::int32_t value) { zigzag(value); }

void ThriftWriter::element_text(std::string_view bytes) {
  varint(bytes.size());
  out_ += bytes;
}

std::string ThriftWriter::finish() {
  EXPECTS(last_.size() == 1);
  out_ += '\0';
  last_.back() = 0;
  return std::exchange(out_, {});
}

}  // namespace fuelwright::signals
