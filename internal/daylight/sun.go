package daylight

import (
	"math"
	"time"
)

// The sun's position follows the low-precision method of Jean Meeus, Astronomical Algorithms (2nd ed.), chapter 25,
// with the constants that the NOAA solar calculator uses; the nutation terms and the obliquity are those of the same
// two sources (Meeus, chapter 22). Meeus gives its accuracy as 0.01 degree. The earth's turning is taken from
// sidereal time (Meeus, chapter 12) rather than from NOAA's equation of time, which rests on one more approximation.
//
// Clock time (UTC) stands for both the even time of the sun's motion and the earth's own rotation. The two are about
// 70 seconds and less than one second away from it, which moves the sun by about 1 and less than 15 seconds of arc.

const (
	j2000          = 946728000 // 2000 January 1, 12:00, in Unix seconds: the epoch of the polynomials
	secondsPerDay  = 86400
	daysPerCentury = 36525
)

// vector is a direction seen from the earth's centre, of length 1 unless said otherwise.
type vector struct{ x, y, z float64 }

// up is the direction straight up at p: x toward latitude 0 and longitude 0, z toward the north pole.
func (p Place) up() vector {
	sinLat, cosLat := math.Sincos(radians(p.Lat))
	sinLon, cosLon := math.Sincos(radians(p.Lon))
	return vector{cosLat * cosLon, cosLat * sinLon, sinLat}
}

// north is the direction along the ground toward the north pole; at a pole, that along the meridian of p.
func (p Place) north() vector {
	sinLat, cosLat := math.Sincos(radians(p.Lat))
	sinLon, cosLon := math.Sincos(radians(p.Lon))
	return vector{-sinLat * cosLon, -sinLat * sinLon, cosLat}
}

// elevation is the altitude in degrees of the sun's centre where up is straight up.
func (up vector) elevation(at time.Time) float64 {
	return degrees(math.Asin(max(-1, min(1, up.dot(sun(at))))))
}

// sun is the direction of the sun's centre, in the frame of Place.up, which turns with the earth.
func sun(at time.Time) vector {
	days := (float64(at.Unix()-j2000) + float64(at.Nanosecond())/1e9) / secondsPerDay
	apparent := sunAmongStars(days)
	sin, cos := math.Sincos(radians(siderealTime(days)))
	return vector{apparent.x*cos + apparent.y*sin, apparent.y*cos - apparent.x*sin, apparent.z}
}

// sunAmongStars is the sun's apparent direction some days after the epoch: x toward the equinox, z toward the
// celestial north pole, both of date.
func sunAmongStars(days float64) vector {
	t := days / daysPerCentury
	meanLongitude := 280.46646 + t*(36000.76983+t*0.0003032)
	anomaly := radians(357.52911 + t*(35999.05029-t*0.0001537))
	centre := math.Sin(anomaly)*(1.914602-t*(0.004817+t*0.000014)) +
		math.Sin(2*anomaly)*(0.019993-t*0.000101) +
		math.Sin(3*anomaly)*0.000289
	const aberration = -0.00569
	nutation, obliquity := wobble(t)

	sinLon, cosLon := math.Sincos(radians(meanLongitude + centre + aberration + nutation))
	sinObl, cosObl := math.Sincos(radians(obliquity))
	return vector{cosLon, sinLon * cosObl, sinLon * sinObl}
}

// siderealTime is how far the earth has turned under the equinox of date at Greenwich, in degrees, not reduced to
// one turn.
func siderealTime(days float64) float64 {
	t := days / daysPerCentury
	nutation, obliquity := wobble(t)
	return 280.46061837 + 360.98564736629*days + t*t*(0.000387933-t/38710000) +
		nutation*math.Cos(radians(obliquity))
}

// wobble is the chief term of the nutation in longitude, then the true obliquity of the ecliptic, both in degrees,
// some Julian centuries after the epoch.
func wobble(t float64) (float64, float64) {
	sinNode, cosNode := math.Sincos(radians(125.04 - 1934.136*t))
	arcseconds := 21.448 - t*(46.815+t*(0.00059-t*0.001813))
	return -0.00478 * sinNode, 23 + (26+arcseconds/60)/60 + 0.00256*cosNode
}

func (v vector) dot(w vector) float64 { return v.x*w.x + v.y*w.y + v.z*w.z }

func (v vector) times(f float64) vector { return vector{v.x * f, v.y * f, v.z * f} }

func (v vector) plus(w vector) vector { return vector{v.x + w.x, v.y + w.y, v.z + w.z} }

func (v vector) length() float64 { return math.Sqrt(v.dot(v)) }

func radians(deg float64) float64 { return deg * (math.Pi / 180) }

func degrees(rad float64) float64 { return rad * (180 / math.Pi) }
