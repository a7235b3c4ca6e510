DROP TABLE delivery_lane;
DROP TABLE delivery;
DROP TABLE webhook_relay;
DROP TABLE webhook_secret;
DROP TABLE webhook;
DROP DOMAIN delivery_state;
DROP DOMAIN webhook_state;
